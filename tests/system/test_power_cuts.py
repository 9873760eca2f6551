"""The power is cut at random instants, with an impulse every second and rings at every minute; the
clock goes on meanwhile, as a board's RTC does, and the power is back at once. What the guest had
not flushed may be lost.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime
from pathlib import Path

import pytest
from figures import note
from full import rounds
from guest_at_work import BEGIN, HELD, NORTH, RELAYS, WIRES, YARD, Installed
from judging import HALL_LINE, TICK_SECONDS, drive, exact, wrong_edges
from machine import Machine, machine
from recording import closings

pytestmark = pytest.mark.system

SECOND, MINUTE = 1_000_000_000, 60_000_000_000
MOST_SECONDS_AT_WORK = 9.0
STATE, LEFT = "/var/lib/understudy", "/run/understudy/left"


@pytest.mark.parametrize("guest", range(rounds(2, 8)))
def test_after_power_cuts_dials_are_exact_and_no_ring_is_given_twice(
    written_down: Installed, tmp_path: Path, guest: int
) -> None:
    chance = random.Random(f"cuts {guest}")
    with machine(written_down.guest, tmp_path / "guest", written_down.disk, harsh=True) as one:
        one.held, one.wires = dict(HELD), WIRES
        one.boot(BEGIN)
        ready(one)
        leave_a_copy(one)
        since = drive(one, HALL_LINE, "03:00")
        cuts = rounds(6, 25)
        for number in range(cuts):
            one.sleep(chance.uniform(0.5, MOST_SECONDS_AT_WORK))
            if number % 3 == 0:  # a random instant too, but of an impulse, or of a ring
                within(one, HALL_LINE.relays[0], chance.uniform(0, 0.5))
            elif number % 6 == 1:
                within(one, NORTH, chance.uniform(0, 1.8))
            one.cut()
            went = one.record.since(0)[-1].utc
            one.boot(datetime.fromtimestamp(went // SECOND + 1, UTC))
            ready(one)
            whole(one)
        exact(one, HALL_LINE, since, "03:00")
        given = closings(one.record.since(since), RELAYS)
        in_impulse = {x.ended for x in given if x.cut and x.line in HALL_LINE.relays}
        in_ring = {x.ended for x in given if x.cut and x.line in (NORTH, YARD)}  # by cut
        note("power cuts", cuts, "cuts")
        note("… of them in mid-impulse", len(in_impulse), "cuts")
        note("… of them in mid-ring", len(in_ring), "cuts")
        assert wrong_edges(one.record.since(0)) == []
        assert rung_twice(one) == []
        assert in_impulse, "none of these cuts was in mid-impulse: nothing is shown"
        assert in_ring, "none of these cuts was in mid-ring: nothing is shown"
        longest = max(x.seconds for x in given if x.line in HALL_LINE.relays)
        assert longest < HALL_LINE.impulse + 2 * TICK_SECONDS


def within(one: Machine, relay: int, seconds: float) -> None:
    """Wait until it has been closed for so long."""
    mark = one.record.mark()
    one.record.wait_for(relay, int(RELAYS[relay]), mark, 600)
    one.sleep(seconds)


def ready(one: Machine) -> None:
    one.until("systemctl is-active -q understudy", 400)


def leave_a_copy(one: Machine) -> None:
    """From now on there is, at each start, a copy of the store as the start found it: the store
    itself is the daemon's alone while it runs.
    """
    copies = f"ExecStartPre=/bin/sh -c 'mkdir -p {LEFT} && cp {STATE}/store.sqlite* {LEFT}'\n"
    one.put("/etc/systemd/system/understudy.service.d/copy.conf", f"[Service]\n{copies}")
    one.sh("systemctl daemon-reload && sync")


def whole(one: Machine) -> None:
    """SQLite finds no fault in what the cut left, and the store has not been set aside."""
    check = "import sqlite3, sys; print(*sqlite3.connect(sys.argv[1]).execute(sys.argv[2]))"
    told = one.run("python3", "-Ic", check, f"{LEFT}/store.sqlite", "PRAGMA integrity_check")
    assert told.out == "('ok',)\n", told
    assert "damaged" not in one.sh(f"ls {STATE}")


def rung_twice(one: Machine) -> list[str]:
    """Rings of the timetable (here: a zone and a minute) that began more than once."""
    seen: set[tuple[int, int]] = set()
    twice = []
    for closing in closings(one.record.since(0), {NORTH: RELAYS[NORTH], YARD: RELAYS[YARD]}):
        ring = closing.line, closing.began.utc // MINUTE
        if ring in seen:
            twice.append(f"{closing}")
        seen.add(ring)
    return twice
