"""Installed by its own installer in a guest without a network, and at work there."""

from __future__ import annotations

import pytest
from figures import note
from guest_at_work import HALL, MAIN, NORTH, RELAYS, WATCH, YARD
from judging import face, minutes_of, wrong_edges
from machine import Machine
from recording import closings, late_ms

pytestmark = pytest.mark.system

MINUTE, HALF_MINUTE = 60_000_000_000, 30_000_000_000
LATE_MS = 50
LONG_MS = 20  # so much longer or shorter than told a closing may be: a choice
LENGTHS = {
    NORTH: 2.0,
    YARD: 2.0,
    MAIN[0]: 1.0,
    MAIN[1]: 1.0,
    HALL[0]: 0.6,
    HALL[1]: 0.6,
    WATCH: 0.5,
}


def test_the_installer_needs_no_network_and_the_daemon_starts_with_the_machine(
    written_down,
) -> None:
    said = written_down.figures["said"]
    assert "This machine takes lock-amd64-cp311.txt." in said
    assert "systemd does not run here: the daemon starts with the machine." in said
    note("boot to a command", written_down.figures["boot"], "s of the host")
    note("the installer", written_down.figures["install"], "s of the host")


def test_the_unit_is_active_and_ready_and_its_watchdog_is_fed(work: Machine) -> None:
    shown = work.shown("ActiveState", "SubState", "NRestarts", "WatchdogUSec", "User", "StatusText")
    assert (shown["ActiveState"], shown["SubState"]) == ("active", "running"), shown
    assert (shown["NRestarts"], shown["WatchdogUSec"], shown["User"]) == ("0", "3s", "understudy")
    fed = [float(work.shown("WatchdogTimestampMonotonic")["WatchdogTimestampMonotonic"])]
    for _ in range(2):
        work.sleep(2.1)
        fed.append(float(work.shown("WatchdogTimestampMonotonic")["WatchdogTimestampMonotonic"]))
    assert fed[0] < fed[1] < fed[2]
    assert work.sh("systemctl --failed --no-legend") == ""


def test_the_hand_holds_its_pins_at_real_time_priority(work: Machine) -> None:
    """`LimitRTPRIO` and `DeviceAllow=char-gpiochip` of the unit, on a kernel that has both."""
    pid = work.shown("MainPID")["MainPID"]
    hand = work.sh(f"pgrep -P {pid} -f controller.circuits.hand").strip()
    assert "SCHED_FIFO" in work.sh(f"chrt -p {hand}")
    assert "scheduling priority: 50" in work.sh(f"chrt -p {hand}")
    assert "VmLck:\t       0 kB" not in work.sh(f"cat /proc/{hand}/status")


def test_rings_and_impulses_begin_within_50_ms_of_their_second(work: Machine) -> None:
    local = work.sh("TZ=America/Halifax date +%H:%M").strip()
    mark = work.record.mark()
    for line in ("main", "hall"):
        work.order("set", line=line, shows=face(minutes_of(local)), polarity="-")
    work.order("set", line="watch", shows=face(minutes_of(local)))
    work.sleep(130)
    edges = work.record.since(mark)
    assert wrong_edges(edges) == []
    given = [one for one in closings(edges, RELAYS) if one.ended is not None]
    seen = dict.fromkeys(LENGTHS, 0)
    whole = given[0].began.utc // MINUTE * MINUTE + MINUTE  # the first minute that is judged
    for one in (one for one in given if one.began.utc > whole - 5_000_000_000):
        every = HALF_MINUTE if one.line == WATCH else MINUTE
        late = late_ms(one, round(one.began.utc / every) * every)
        note("a relay closes after its second", late, "ms", LATE_MS)
        assert -1 <= late <= LATE_MS, one
        off = (one.seconds - LENGTHS[one.line]) * 1000
        note("a closing is longer than told", off, "ms", LONG_MS)
        assert abs(off) <= LONG_MS, one
        seen[one.line] += 1
    assert seen[NORTH] >= 1
    assert seen[YARD] == seen[NORTH]
    assert seen[MAIN[0]] + seen[MAIN[1]] >= 1
    assert seen[HALL[0]] + seen[HALL[1]] >= 1
    assert seen[WATCH] >= 3
