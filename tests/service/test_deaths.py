"""Whoever dies, in mid-ring or in mid-impulse: relays open in time, and the next start goes on.

Rule 18: open within 0.5 s when the daemon ends in any way, within 3 s when it hangs. When the hand
ends, the daemon opens the relays itself as it goes; systemd's `release` stands behind that.
"""

from __future__ import annotations

import signal
import time
from functools import partial
from pathlib import Path

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


ENDS, HANGS, HAND_ENDS, HAND_HANGS = 0.5, 3.0, 2.0, 4.0  # s until the relays are open: rule 18
LATE = 0.2  # of a busy test machine


@pytest.mark.parametrize(
    ("who", "how", "seconds"),
    [
        ("daemon", signal.SIGKILL, ENDS),
        ("daemon", signal.SIGSEGV, ENDS),
        # An exception, by raising/sitecustomize.py; it is raised at the engine's next beat.
        ("daemon", signal.SIGUSR1, ENDS + 1.0),
        ("daemon", signal.SIGSTOP, HANGS),
        ("hand", signal.SIGKILL, HAND_ENDS),
        ("hand", signal.SIGSEGV, HAND_ENDS),
        ("hand", signal.SIGUSR1, HAND_ENDS),
        ("hand", signal.SIGSTOP, HAND_HANGS),
    ],
)
def test_in_mid_ring_the_bell_stops_in_time_and_is_not_rung_again(
    installation, monkeypatch, capsys, who, how, seconds
):
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).with_name("raising")))
    at = installation.local(6)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "15s"}}')
    installation.start()
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    kill = installation.kill_daemon if who == "daemon" else installation.kill_hand
    took = opened_after(installation, ["zones.north"], partial(kill, how))
    with capsys.disabled():
        print(f"\n{who}, {how.name}: open after {took:.3f} s of {seconds} s")
    assert took < seconds + LATE
    if (who, how) == ("daemon", signal.SIGSTOP):
        installation.kill_daemon(signal.SIGCONT)
    assert installation.process.wait(15) != 0

    installation.started()
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


def test_a_term_signal_opens_what_sounds_and_ends_in_order(installation):
    at = installation.local(6)
    installation.write(rings=f'{{at = "{at}", zones = ["north"], for = "15s"}}')
    installation.start()
    installation.wait(lambda: installation.relay("zones.north")["closed"])
    assert installation.end() == 0
    assert not installation.relay("zones.north")["level"]
    assert "north  cut short" in installation.said.read_text()
