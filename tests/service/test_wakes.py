"""Dated wake-ups: what the scheduler is asked for, and when it need not be asked again.

The scheduler is the test's own, and so are the clocks.
"""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime

import pytest

from controller.service import wakes
from controller.service.wakes import Wakes

SECOND = 1_000_000_000
NOON = 1_780_000_000 * SECOND


class Scheduler:
    """In the place of APScheduler's."""

    def __init__(self, **_):
        self.asked = []

    def add_job(self, job, trigger, *, run_date=None, **_):
        if trigger == "date":
            self.asked.append((job, run_date))

    def start(self): ...


class Clocks:
    """In the place of `time`."""

    utc, mono = NOON, 5 * SECOND

    def time_ns(self):
        return self.utc

    def monotonic_ns(self):
        return self.mono

    def go_by(self, ns):
        self.utc += ns
        self.mono += ns


class Waked:
    """Somebody who asks to be waked."""

    def __init__(self):
        self.woken = 0
        self.wakes = Wakes(self.wake, lambda: None)
        self.scheduler = self.wakes._scheduler

    def wake(self):
        self.woken += 1

    @property
    def asked(self):
        """The instants for which the scheduler was asked, in seconds after noon."""
        noon = datetime.fromtimestamp(NOON // SECOND, UTC)
        return [round((when - noon).total_seconds(), 3) for _, when in self.scheduler.asked]

    def fall_due(self):
        self.scheduler.asked[-1][0]()


@pytest.fixture
def clocks(monkeypatch):
    monkeypatch.setattr(wakes, "time", clocks := Clocks())
    return clocks


@pytest.fixture
def house(monkeypatch, clocks):
    monkeypatch.setattr(wakes, "BackgroundScheduler", Scheduler)
    return Waked()


def test_what_is_asked_at_each_step_for_one_instant_is_scheduled_once(house, clocks):
    for _ in range(5):
        house.wakes.wake_at(NOON + 30 * SECOND)
        clocks.go_by(SECOND)
    assert house.asked == [30]


def test_another_instant_takes_the_place_of_the_one_before(house):
    for seconds in (30, 10, 30):
        house.wakes.wake_at(NOON + seconds * SECOND)
    assert house.asked == [30, 10, 30]


def test_when_it_was_waked_the_same_instant_may_be_asked_for_again(house):
    house.wakes.wake_at(NOON + SECOND)
    house.fall_due()
    assert house.woken == 1
    house.wakes.wake_at(NOON + SECOND)
    assert house.asked == [1, 1]


@pytest.mark.parametrize("step", [2 * SECOND, -3600 * SECOND])
def test_after_a_step_of_the_clock_the_scheduler_hears_the_same_instant_anew(house, clocks, step):
    """It sleeps on the monotonic clock, and would come at the old one's."""
    house.wakes.wake_at(NOON + 60 * SECOND)
    clocks.utc += step
    house.wakes.wake_at(NOON + 60 * SECOND)
    assert house.asked == [60, 60]


def test_a_clock_that_is_slewed_has_it_asked_anew_as_it_drifts(house, clocks):
    """At 500 ppm, the most that the kernel slews (adjtimex(2)), a minute is 30 ms off."""
    house.wakes.wake_at(NOON + 60 * SECOND)
    for _ in range(40):
        clocks.go_by(SECOND)
        clocks.utc += 500_000
        house.wakes.wake_at(NOON + 60 * SECOND)
    assert len(house.asked) == 1 + 20, "every second time: 1 ms"


def test_the_scheduler_really_wakes():
    woken = threading.Event()
    real = Wakes(woken.set, lambda: None)
    try:
        real.wake_at(time.time_ns() + 20_000_000)
        assert woken.wait(20)
    finally:
        real.close()
