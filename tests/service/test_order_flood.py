"""A hundred callers who mean no good: the socket goes on, small and fair."""

from __future__ import annotations

import contextlib
import json
import os
import random
import selectors
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from order_desk import STOP, Counter, Talk, until
from test_order_words import ANY_ORDER, JSON

from controller.service.order_limits import LIMITS
from controller.service.order_wire import MOST_LINE_BYTES, SOCKET

MIB = 1 << 20
SERVER = """
import sys
from pathlib import Path
from order_desk import STOP, Counter
counter = Counter(Path(sys.argv[1]))
counter.server.start()
print("ready", flush=True)
sys.stdin.read()
counter.close()
print(len(counter.failed), flush=True)
"""
MALFORMED = [
    b"",
    b"\0" * 50,
    bytes(range(256)).replace(b"\n", b""),
    b"[" * 3_000,
    b'{"order":' * 300,
    b"9" * 4_000,
    b'{"order":"step","line":"main","impulses":' + b"9" * 3_000 + b"}",
    b'{"order":"stop","id":NaN}',
    b'{"order":"stop","id":-1e999}',
    b'{"order":"hold","line":"\\ud800"}',
    b'{"order":"hold","line":"\\u0000"}',
    b'{"order":"hold","line":"\xed\xa0\x80"}',
    b'{"order":"ring","zones":[' + b"{}," * 1_000 + b"{}]}",
    b'{"order":"stop",' + b",".join(b'"%d":0' % number for number in range(500)) + b"}",
    b'{"order":"rign"}',
    b"\xff\xfe" * 100,
]
LONGEST = [
    start + filling * ((MOST_LINE_BYTES - len(start)) // len(filling) - 1) + end
    for start, filling, end in (
        (b'{"order":[', b"[],", b"[]]}"),
        (b'{"order":"edit","text":"', b"\\n", b'"}'),
        (b'{"order":"edit","text":"', "🔔".encode(), b'"}'),
    )
]


class Apart:
    """A server in a process of its own, so that its memory can be measured."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / SOCKET
        self._process = subprocess.Popen(
            [sys.executable, "-c", SERVER, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parent)},
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == b"ready\n"
        with_one_answer = Talk(self.path)
        with_one_answer.ask(STOP)
        with_one_answer.close()

    def memory(self, which: str) -> int:
        """Bytes: VmRSS now, VmHWM at most so far."""
        status = Path(f"/proc/{self._process.pid}/status").read_text()
        (line,) = (line for line in status.splitlines() if line.startswith(which))
        return int(line.split()[1]) * 1024

    def close(self) -> None:
        out, _ = self._process.communicate(b"", timeout=30)
        assert out == b"0\n", "nothing unforeseen was met"
        assert self._process.returncode == 0


@pytest.fixture
def folder():
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        yield Path(short)


@pytest.fixture
def apart(folder):
    apart = Apart(folder)
    yield apart
    apart.close()


class Flood:
    """Callers who say as much as is taken of them, on a thread, until it ends."""

    def __init__(self, path: Path, lines: list[list[bytes]], reads: list[bool]) -> None:
        self.said_bytes = 0
        self._over = threading.Event()
        self._selector = selectors.DefaultSelector()
        self._callers = [
            self._caller(path, number, *what)
            for number, what in enumerate(zip(lines, reads, strict=True))
        ]
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _caller(self, path: Path, number: int, lines: list[bytes], reads: bool) -> socket.socket:
        link = socket.socket(socket.AF_UNIX)
        link.connect(str(path))
        link.setblocking(False)
        events = selectors.EVENT_WRITE | (selectors.EVENT_READ if reads else 0)
        self._selector.register(link, events, _endless(lines, number))
        return link

    def _run(self) -> None:
        left: dict[int, bytes] = {}
        while not self._over.is_set():
            for key, events in self._selector.select(0.1):
                link = key.fileobj
                assert isinstance(link, socket.socket)
                try:
                    if events & selectors.EVENT_READ:
                        link.recv(65_536)
                    if events & selectors.EVENT_WRITE:
                        data = left.pop(key.fd, b"") or next(key.data)
                        sent = link.send(data)
                        self.said_bytes += sent
                        left[key.fd] = data[sent:]
                except BlockingIOError:
                    left[key.fd] = data
                except OSError:  # it was parted
                    self._selector.unregister(link)
            time.sleep(0.001)  # it shares its two cores with the server

    def close(self) -> None:
        self._over.set()
        self._thread.join()
        for link in self._callers:
            link.close()


def _endless(lines: list[bytes], seed: int) -> Iterator[bytes]:
    dice = random.Random(seed)
    while True:
        yield dice.choice(lines) + b"\n"


def waits(talk: Talk, times: int) -> list[float]:
    """How long each of some quiet orders took, in seconds."""
    took = []
    for number in range(times):
        began = time.monotonic()
        assert talk.ask({**STOP, "id": number}) == {"id": number, "ok": True, "says": "Done: stop."}
        took.append(time.monotonic() - began)
        time.sleep(0.1)  # a quiet caller
    return took


def a_hundred_who_say(data: bytes, path: Path) -> list[socket.socket]:
    """Connections that say as much of it as is taken, and read nothing."""
    links = []
    for _ in range(100):
        link = socket.socket(socket.AF_UNIX)
        link.connect(str(path))
        link.settimeout(0.02)
        with contextlib.suppress(TimeoutError):  # no more is taken of it
            link.sendall(data)
        links.append(link)
    return links


def test_a_quiet_caller_is_answered_within_half_a_second_while_99_flood(apart):
    before = apart.memory("VmRSS")
    quiet = Talk(apart.path)
    flood = Flood(apart.path, [MALFORMED] * 99, [number % 2 == 0 for number in range(99)])
    until(lambda: flood.said_bytes > 2 * MIB)
    assert max(waits(quiet, 15)) < 0.5
    newcomer = Talk(apart.path)
    assert max(waits(newcomer, 3)) < 0.5
    quiet.close()
    newcomer.close()
    flood.close()
    again = Talk(apart.path)
    assert again.ask(STOP)["ok"] is True
    again.close()
    assert apart.memory("VmHWM") - before < 24 * MIB


def test_the_longest_lines_leave_time_and_room_for_others(apart):
    quiet = Talk(apart.path)
    before = apart.memory("VmRSS")
    flood = Flood(apart.path, [LONGEST] * 99, [True] * 99)
    until(lambda: flood.said_bytes > 30 * MIB)
    assert max(waits(quiet, 10)) < 0.5
    flood.close()
    quiet.close()
    assert apart.memory("VmHWM") - before < 48 * MIB


def test_a_hundred_half_lines_take_no_more_than_their_room(apart):
    before = apart.memory("VmRSS")
    links = a_hundred_who_say(b"x" * (MOST_LINE_BYTES - 1), apart.path)
    quiet = Talk(apart.path)
    assert max(waits(quiet, 5)) < 0.5
    assert apart.memory("VmRSS") - before < 24 * MIB, "unbounded it would be 200"
    quiet.close()
    for link in links:
        link.close()


def test_a_hundred_callers_who_do_not_read_take_no_more_than_their_room(apart):
    before = apart.memory("VmRSS")
    asked = json.dumps({"order": "ring", "zones": ["x" * 41] * 4, "for": 3}).encode() + b"\n"
    links = a_hundred_who_say(asked * 20_000, apart.path)
    quiet = Talk(apart.path)
    assert max(waits(quiet, 5)) < 0.5
    assert apart.memory("VmHWM") - before < 24 * MIB
    quiet.close()
    for link in links:
        link.close()


# ── any lines ────────────────────────────────────────────────────────────────────────────────────


@pytest.fixture(scope="module")
def unhurried():
    """A server that takes as many orders a second as there are."""
    many = 1_000_000
    limits = LIMITS._replace(
        connections_a_second=many,
        orders_a_second=many,
        orders_at_once=many,
        orders_a_second_in_all=many,
        long_line_bytes_a_second=many * MIB,
    )
    with tempfile.TemporaryDirectory() as folder:
        counter = Counter(Path(folder), limits)
        counter.server.start()
        yield counter
        counter.close()
        assert counter.failed == []


ANY_LINE = (
    st.binary(max_size=200)
    | (JSON | ANY_ORDER).map(lambda plain: json.dumps(plain).encode())
    | st.sampled_from([*MALFORMED, b'{"order":"watch"}', b'{"order":"status"}', b"x" * 20_000])
).map(lambda line: line.replace(b"\n", b" "))


@given(st.lists(ANY_LINE, max_size=12), st.randoms(use_true_random=False))
def test_whatever_is_said_each_line_has_exactly_one_answer(unhurried, lines, dice):
    talk = Talk(unhurried.path)
    marks = [{"order": "status", "id": number} for number in (2**53 - 1, 2**53)]
    data = b"".join(line + b"\n" for line in [*lines, json.dumps(marks[0]).encode()])
    while data:  # in pieces that have nothing to do with the lines
        size = dice.randint(1, len(data))
        talk.link.sendall(data[:size])
        data = data[size:]
    answers = []
    while len(answers) <= len(lines):
        words = talk.hear()
        answers += [words] if "ok" in words else []
    assert all(isinstance(one["says"], str) for one in answers)
    assert [one.get("id") for one in answers].count(2**53 - 1) >= 1
    talk.say(marks[1])
    while "ok" not in (last := talk.hear()):
        pass
    assert last["id"] == 2**53, "nothing is answered that was not asked"
    talk.close()


def test_a_thousand_callers_one_after_the_other_leave_nothing_behind(unhurried):
    files = len(os.listdir("/proc/self/fd"))
    for number in range(1000):
        talk = Talk(unhurried.path)
        talk.link.sendall(MALFORMED[number % len(MALFORMED)])
        if number % 3:
            talk.link.sendall(b"\n" + json.dumps(STOP).encode() + b"\n")
        talk.close()
    until(lambda: len(os.listdir("/proc/self/fd")) <= files)
    assert Talk(unhurried.path).ask(STOP)["ok"] is True
