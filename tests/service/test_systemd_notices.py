"""Notices to systemd: heard where it listens, and never waited for."""

from __future__ import annotations

import socket
from types import SimpleNamespace

import pytest

from controller.building.file import read
from controller.engine.contract import Now
from controller.engine.records import LineRow
from controller.engine.recover import recover
from controller.service.daemon import Daemon
from controller.service.systemd import notify, status

LINE = """
[building]
timezone = "UTC"
[lines.main]
drive = "alternating"
relays = [22, 23]
"""
READ = LineRow("main", True, 100, 720, "-", False, False, None, 0)


@pytest.fixture
def listener(tmp_path, monkeypatch):
    path = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(path))
        heard.settimeout(2)
        monkeypatch.setenv("NOTIFY_SOCKET", str(path))
        yield heard


def test_lines_are_one_notice(listener):
    notify("WATCHDOG=1", "STATUS=running")
    assert listener.recv(4096) == b"WATCHDOG=1\nSTATUS=running"


def test_nobody_waits_for_a_listener_that_does_not_listen(listener):
    for number in range(2_000):  # more than any socket keeps
        notify(f"STATUS={number}")
    assert listener.recv(4096) == b"STATUS=0"


def test_without_a_listener_nothing_happens(tmp_path, monkeypatch):
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    notify("READY=1")
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    notify("READY=1")


@pytest.fixture
def states(tmp_path):
    """Of a building whose dials nobody has read, and of the same one when somebody has."""
    path = tmp_path / "building.toml"
    path.write_text(LINE)
    now = Now(1_780_000_000_000_000_000, 5_000_000_000, "boot", True)
    return [recover(read(path), rows, now) for rows in ([], [READ])]


def test_the_status_names_what_keeps_it_from_work(states):
    unread, well = states
    assert status(unread, False) == "clock not trusted; unread: main"
    assert status(well, False) == "clock not trusted; running"
    assert status(well, True) == "running"


def test_the_status_is_told_once_as_long_as_it_is_the_same(listener, states):
    unread, well = states
    clock = SimpleNamespace(now=lambda _: SimpleNamespace(trusted=True))
    house = SimpleNamespace(engine=SimpleNamespace(state=unread), clock=clock, _status="")
    for state in (unread, unread, well, well):
        house.engine.state = state
        Daemon._tell_status(house)
    notify("the end")
    told = [listener.recv(4096).decode() for _ in range(3)]
    assert told == ["STATUS=unread: main", "STATUS=running", "the end"]
