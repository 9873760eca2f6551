"""The system's clock stepped by an hour under a daemon at work, as it sees it (libfaketime).

Only this one process is told another time, and by its calls, not by the kernel: so it shows the
engine's own look at the clock, once a second, and what is decided then. This machine's clock is
left alone. An end in order is not judged here: libfaketime bends the timeouts of threads that are
waited for.
"""

from __future__ import annotations

import os
import subprocess
import time
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

LIBRARY = "usr/lib/*/faketime/libfaketimeMT.so.1"
LINE = """
[lines.main]
drive = "alternating"
relays = [22, 23]
impulse = "200ms"
gap = "200ms"
"""


@pytest.fixture
def clock(installation, tmp_path, monkeypatch) -> Path:
    """A daemon at work; what is written into this file is added to the clock that it sees."""
    libraries = list(Path("/").glob(LIBRARY))
    if not libraries:
        assert "CI" not in os.environ, "CI has libfaketime, and skips nothing"
        pytest.skip("the package faketime is not installed")
    at = (datetime.now(ZoneInfo(installation.zone)) + timedelta(minutes=30)).time()
    ring = f'{{at = "{at.isoformat(timespec="seconds")}", zones = ["north"], for = "1s"}}'
    installation.write(rings=ring, lines=LINE)
    # The board keeps this machine's time.
    understudy, *_, runtime = installation.command()
    board = [understudy, "fake-board", installation.file, "start", "--runtime", runtime]
    subprocess.run(board, check=True, capture_output=True)
    offset = tmp_path / "offset"
    offset.write_text("+0")
    with monkeypatch.context() as environment:
        environment.setenv("LD_PRELOAD", str(libraries[0]))
        environment.setenv("FAKETIME_TIMESTAMP_FILE", str(offset))
        # The file is read once a second; at every look a slow machine would do little else.
        environment.setenv("FAKETIME_CACHE_DURATION", "1")
        environment.setenv("FAKETIME_DONT_FAKE_MONOTONIC", "1")
        installation.start()
    installation.wait(installation.answers)
    installation.wait(lambda: installation.picture()["lines"]["main"]["state"] == "right")
    return offset


def impulses(house) -> list[float]:
    """The instants (s, monotonic) at which impulses began."""
    found = house.changes("contact", "lines.main+") + house.changes("contact", "lines.main-")
    return sorted(change.mono / 1e9 for change in found if change.to)


def test_an_hour_forwards_is_noticed_within_a_second_and_lived_through(installation, clock, capsys):
    before = len(impulses(installation))
    stepped = time.monotonic()
    clock.write_text("+3600")
    installation.wait(lambda: len(impulses(installation)) > before, 10)
    noticed = impulses(installation)[before] - stepped
    with capsys.disabled():
        print(f"\nthe first impulse after a step of an hour: {noticed:.2f} s")
    assert noticed < 3.0, "a second until it is told, another until it is noticed, and the rest"
    installation.wait(lambda: installation.picture()["lines"]["main"]["state"] == "right", 60)
    assert len(impulses(installation)) - before >= 59, "an hour's, the last perhaps still given"
    assert not installation.changes("pin", "GPIO17"), "what was skipped is not rung late"
    installation.wait(lambda: any("late" in line for line in installation.logbook()))


def test_an_hour_backwards_lets_the_dials_wait(installation, clock):
    clock.write_text("-3600")
    installation.wait(lambda: installation.picture()["lines"]["main"]["state"] == "waiting", 10)
