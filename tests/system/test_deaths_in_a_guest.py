"""Daemon and hand die in every way, and both at once, in mid-ring and in mid-impulse, on the chip
that keeps a line's level when its holder is gone: the relays are open within the times of design
rule 18, and the dials are exact afterwards.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from figures import note
from full import rounds
from guest_at_work import NORTH
from judging import HALL_LINE, drive, exact, wrong_edges
from machine import PULL, Machine

pytestmark = pytest.mark.system

SECOND = 1_000_000_000
MIDDLES = ("ring", "impulse")
RAISING = Path(__file__).parents[1] / "service/raising/sitecustomize.py"
# Rule 18, s. A hang is noticed by the last beat's age, so a little more is lawful: see the limits
# in tests/systemd.
LIMITS = {
    ("daemon", "KILL"): 0.5,
    ("daemon", "SEGV"): 0.5,
    ("daemon", "STOP"): 3.2,
    ("daemon", "USR1"): 0.5,  # an exception where nobody foresaw one
    ("daemon", "stop"): 0.5,
    ("hand", "KILL"): 2.0,
    ("hand", "SEGV"): 2.0,
    ("hand", "STOP"): 4.0,
    ("hand", "USR1"): 2.0,
    ("both", "KILL"): 2.0,  # only the unit's `release` is left then
}
# In the guest, so that it comes in the middle of an impulse: LEVEL, open first where told, closed,
# how, whom. Prints the monotonic clock (ns) just before.
DEATH = """
import os, signal, sys, time
level, opened, closed, how, *pids = sys.argv[1:]
for awaited in filter(None, (opened, closed)):
    while open(level).read().strip() != awaited:
        time.sleep(0.005)
time.sleep(0.1)
print(time.monotonic_ns(), flush=True)
if how == "stop":
    os.system("systemctl stop understudy --no-block")
else:
    for pid in pids:
        os.kill(int(pid), getattr(signal, f"SIG{how}"))
"""
# USR1 is raised at the next beat of the engine's thread, up to a second later.
SLACK = {("daemon", "USR1"): 1.1}


@pytest.mark.parametrize("whose", ["daemon", "hand", "both"])
def test_the_relays_open_in_time_and_the_dials_are_exact_afterwards(
    work: Machine, whose: str
) -> None:
    raising(work)
    begin = work.record.mark()
    since = drive(work, HALL_LINE, "03:00")  # hours behind: an impulse a second
    deaths = [how for who, how in LIMITS if who == whose]
    for number, death in enumerate(deaths):
        middles = rounds([MIDDLES[number % 2]], [*MIDDLES] * 5)
        for middle in middles:
            dies(work, whose, death, middle)
    exact(work, HALL_LINE, since, "03:00")
    assert wrong_edges(work.record.since(begin)) == []


def raising(work: Machine) -> None:
    """SIGUSR1 raises an exception, from the next start on."""
    work.put("/opt/raising/sitecustomize.py", RAISING.read_text())
    drop_in = "/etc/systemd/system/understudy.service.d/raising.conf"
    work.put(drop_in, "[Service]\nEnvironment=PYTHONPATH=/opt/raising\n")
    work.sh("systemctl daemon-reload && systemctl restart understudy")


def dies(work: Machine, whose: str, death: str, mid: str) -> None:
    """One death; everything is open in time, and the daemon is back."""
    daemon = work.shown("MainPID")["MainPID"]
    hand = work.sh(f"pgrep -P {daemon} -f circuits.hand").strip()
    pids = {"daemon": [daemon], "hand": [hand], "both": [hand, daemon]}[whose]
    if mid == "ring":
        relay, closed = NORTH, 1
        mark = work.record.mark()
        # Longer than a death takes, and so short that a minute may have them all: a ring that a
        # death cut counts up to the restart.
        work.order("ring", zones=["north"], **{"for": "5s"})
        work.record.wait_for(relay, closed, mark, 120)
    else:
        relay, closed = HALL_LINE.relays[0], 0
    fresh = "" if mid == "ring" else str(1 - closed)
    value = PULL.format(relay, "value")
    words = [value, fresh, str(closed), death, *pids]
    at = int(work.run("python3", "-Ic", DEATH, *words).out.split()[0])
    opened = next_open(work, relay, closed, at)
    took = (opened - at) / SECOND
    limit = LIMITS[whose, death] + SLACK.get((whose, death), 0)
    note(f"{whose}, {death}: all open", took, "s", limit)
    assert took <= limit, f"{whose}, {death}, mid-{mid}: {took:.3f} s"
    if death == "stop":
        work.until("! systemctl is-active -q understudy")
        work.sh("systemctl start understudy")
    else:
        work.until(f"! test -e /proc/{daemon} && systemctl is-active -q understudy", 240)


def next_open(work: Machine, relay: int, closed: int, at: int) -> int:
    """When the relay opened after `at`; it was closed then."""
    edges = work.record.since(0)
    mark = next((number for number, one in enumerate(edges) if one.mono >= at), len(edges))
    levels = [one.level for one in edges[:mark] if (one.what, one.line) == ("level", relay)]
    assert levels[-1] == closed, f"line {relay} was open already: nothing is shown"
    return work.record.wait_for(relay, 1 - closed, mark, 240).mono
