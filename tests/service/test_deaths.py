"""Whoever dies, in mid-ring or in mid-impulse: relays open in time, and the next start goes on.

Rule 18: open within 0.5 s when the daemon ends in any way, within 3 s when it hangs. When the hand
ends, the daemon opens the relays itself as it goes; systemd's `release` stands behind that.
"""

from __future__ import annotations

import signal
import time
from functools import partial

import pytest

LINE = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n'
SINGLE = '[lines.yard]\ndrive = "single"\nrelays = [13]\n'
NS = 1_000_000_000


def opened_after(installation, pins, die):
    """Seconds from `die` until every one of these pins is at its inactive level."""
    killed = time.monotonic_ns()
    die()
    installation.wait(lambda: not any(installation.relay(pin)["level"] for pin in pins), 10)
    with installation.board() as board:
        last = [c for c in board.log() if c.what == "pin" and c.to == 0 and c.mono > killed]
    return (last[-1].mono - killed) / NS


def closings(installation, name):
    with installation.board() as board:
        return [c for c in board.log() if c.what == "contact" and c.name == name and c.to == 1]


@pytest.mark.parametrize("who", ["daemon", "hand"])
def test_in_mid_ring_the_bell_stops_and_is_not_rung_again(installation, who):
    at = installation.local(6)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "15s"}}')
    installation.start()
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    die = installation.kill_daemon if who == "daemon" else installation.kill_hand
    assert opened_after(installation, ["zones.north"], die) < 0.5
    assert installation.process.wait(5) != 0

    installation.start()
    installation.wait(
        lambda: (
            "cut as it began" in installation.said.read_text()
            or "north  cut short" in installation.said.read_text()
        )
    )
    time.sleep(1.5)  # within grace still: a ring given again would sound by now
    assert len(closings(installation, "zones.north")) == 1
    assert installation.end() == 0


@pytest.mark.parametrize("who", ["daemon", "hand"])
def test_in_mid_impulse_an_alternating_line_is_exact_afterwards(installation, who):
    installation.write(lines=LINE)
    installation.dials_behind("main", 3)
    installation.start()
    installation.wait(lambda: installation.relay("lines.main-")["closed"])  # the second of them
    die = installation.kill_daemon if who == "daemon" else installation.kill_hand
    assert opened_after(installation, ["lines.main+", "lines.main-"], die) < 0.5
    assert installation.process.wait(5) != 0

    installation.start()

    def right():
        with installation.board() as board:
            texts = board.state()["lines"]["main"]["texts"]
        return set(texts) == {installation.local(0)[:5]} or set(texts) == {twelve(installation)}

    installation.wait(right)
    assert "is given again" in installation.said.read_text()
    assert installation.end() == 0


def twelve(installation):
    """The time of day on a twelve-hour face."""
    hours, minutes, _ = installation.local(0).split(":")
    return f"{int(hours) % 12:02d}:{minutes}"


def test_in_mid_impulse_a_single_line_is_doubtful_afterwards(installation):
    installation.write(lines=SINGLE)
    installation.dials_behind("yard", 3)
    installation.start()
    installation.wait(lambda: installation.relay("lines.yard")["closed"])
    assert opened_after(installation, ["lines.yard"], installation.kill_daemon) < 0.5
    installation.process.wait(5)
    installation.start()
    installation.wait(lambda: "yard: doubtful" in installation.said.read_text())
    assert installation.end() == 0


def test_a_daemon_that_hangs_leaves_no_bell_on(installation):
    at = installation.local(6)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "15s"}}')
    installation.start()
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    stop = partial(installation.kill_daemon, signal.SIGSTOP)
    assert opened_after(installation, ["zones.north"], stop) < 3.2
    installation.kill_daemon(signal.SIGCONT)
    assert installation.process.wait(10) == 1  # its hand is gone, so it ends too


def test_a_term_signal_opens_what_sounds_and_ends_in_order(installation):
    at = installation.local(6)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "15s"}}')
    installation.start()
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    assert installation.end() == 0
    assert not installation.relay("zones.north")["level"]
    assert "north  cut short" in installation.said.read_text()
