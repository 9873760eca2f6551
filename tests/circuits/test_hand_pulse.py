"""How the daemon feels whether its hand lives: a real hand, the daemon's clock the test's."""

from __future__ import annotations

import os
import select
import signal
import tempfile
import threading
from pathlib import Path

import pytest
from board_house import HOUSE

from controller.building.file import read
from controller.building.wiring import wiring_of
from controller.circuits import hand_link
from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.circuits.hand_link import HandLink

PATIENT_SECONDS = 20.0


class Clock:
    """In the place of the daemon's `time`."""

    seconds = 0.0

    def monotonic(self):
        return self.seconds


class Beaten:
    """A hand, and a daemon that beats when the test says so."""

    def __init__(self, link, clock):
        self.link = link
        self.clock = clock

    def beat(self, at):
        """Whether it hangs, as this beat finds it."""
        self.clock.seconds = at
        assert self.link.beat(False)
        return self.link.hangs

    def turned(self):
        readable, _, _ = select.select([self.link._pulse], [], [], PATIENT_SECONDS)
        assert readable, "the hand does not turn"

    def stand_still(self):
        os.kill(self.link.pid, signal.SIGSTOP)
        os.waitid(os.P_PID, self.link.pid, os.WSTOPPED | os.WNOWAIT)


@pytest.fixture
def hand(tmp_path, monkeypatch):
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    monkeypatch.setattr(hand_link, "time", clock := Clock())
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        path, _ = start_or_find(file, Path(short))
        link = HandLink("hand")
        link.take(wiring_of(read(file)), path.parent, path)
        yield Beaten(link, clock)
        link.kill()
        link.close()
        stop(path)


def test_a_hand_that_turns_at_each_beat_never_hangs(hand):
    for second in range(1, 11):
        assert not hand.beat(second)
        hand.turned()


def test_a_hand_that_stands_still_is_found_with_the_second_beat_that_it_does_not_take(hand):
    hand.beat(1)
    hand.turned()
    hand.stand_still()
    assert [hand.beat(second) for second in (2, 3, 4)] == [False, False, True]


def test_beats_in_quick_succession_make_no_hand_hang(hand):
    hand.beat(1)
    hand.turned()
    hand.stand_still()
    assert not any(hand.beat(2 + hundredths / 100) for hundredths in range(100))


def test_a_daemon_that_was_held_up_does_not_blame_its_hand(hand):
    hand.beat(1)
    hand.turned()
    assert not hand.beat(3.9)
    hand.turned()
    assert not hand.beat(4.9)


def test_a_hand_that_was_not_asked_yet_does_not_hang(hand):
    assert not hand.beat(8)
    hand.turned()
    assert not hand.beat(9)


def test_a_link_that_is_closed_feels_nothing(hand):
    hand.link.kill()
    hand.link.close()
    assert hand.link.beat(False) is False
    assert not hand.link.hangs


class ReadWhileClosed:
    """In the place of a link's pulse: as it is read, another thread sets about closing the link."""

    def __init__(self, link):
        self.pulse = link._pulse
        self.closing = threading.Thread(target=link.close)

    @property
    def closed(self):
        return self.pulse.closed

    def read(self, size):
        self.closing.start()
        self.closing.join(0.5)  # as far as it gets
        return self.pulse.read(size)

    def close(self):
        self.pulse.close()


def test_a_link_that_another_thread_closes_meanwhile_is_felt_to_the_end(hand):
    """As where the daemon gives a dead hand up while its engine's thread beats."""
    hand.link.kill()
    hand.link._pulse = slow = ReadWhileClosed(hand.link)
    hand.link.beat(False)
    slow.closing.join(PATIENT_SECONDS)
    assert slow.closed
    assert hand.link.beat(False) is False
