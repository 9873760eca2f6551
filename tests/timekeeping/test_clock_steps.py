"""A step of the clock is noticed. Nothing here sets this machine's clock.

That the kernel cancels the timer when the clock is set can be seen only where a clock may be set:
in a guest, among the tests on a real kernel. Here the timer is opened, set, read and closed, and
what the kernel would answer is given in its place.
"""

from __future__ import annotations

import errno
import os
import select
import threading
import time
from collections.abc import Callable

import pytest

from controller.timekeeping import steps
from controller.timekeeping.steps import (
    SMALLEST_NS,
    StepWatcher,
    arm,
    open_timer,
    real_ahead_ns,
    set_timer,
    timer_told,
)

SECOND = 10**9
SOON = 0.005  # seconds: a period for tests
PATIENCE = 10.0  # seconds, for a thread on a busy machine


class Clock:
    """How far the system's clock is ahead of the monotonic one; looked at, it counts."""

    def __init__(self) -> None:
        self.ahead = 1_795_605_000 * SECOND
        self._looks = 0
        self._looked = threading.Condition()

    def __call__(self) -> int:
        with self._looked:
            self._looks += 1
            self._looked.notify_all()
            return self.ahead

    def looked_at(self, times: int) -> None:
        """Wait until it has been looked at so many times more."""
        with self._looked:
            wanted = self._looks + times
            assert self._looked.wait_for(lambda: self._looks >= wanted, PATIENCE)


class Watch:
    """A watcher on a clock of our own, with all that it told and said."""

    def __init__(self, stepped: Callable[[], None] | None = None, period: float = SOON) -> None:
        self.clock = Clock()
        self.said: list[str] = []
        self.told = threading.Semaphore(0)
        self.count = 0
        self._also = stepped
        self.watcher = StepWatcher(self._stepped, self.said.append, self.clock, period)

    def _stepped(self) -> None:
        self.count += 1
        self.told.release()
        if self._also is not None:
            self._also()

    def step(self, nanoseconds: int) -> None:
        self.clock.ahead += nanoseconds

    def is_told(self) -> bool:
        return self.told.acquire(timeout=PATIENCE)

    def __enter__(self) -> Watch:
        return self

    def __exit__(self, *_: object) -> None:
        self.watcher.close()


def no_timer() -> int:
    raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))


# ── the comparison behind the timer ──────────────────────────────────────────────────────────────


@pytest.mark.parametrize("by", [SECOND, -SECOND, 3600 * SECOND, -400 * 86_400 * SECOND, 20_000_000])
def test_a_step_is_found_by_comparing_the_clocks_and_told_once(by):
    with Watch() as watch:
        watch.step(by)
        assert watch.is_told()
        watch.clock.looked_at(5)
        assert watch.count == 1


def test_every_one_of_several_steps_is_told():
    with Watch() as watch:
        for number in range(1, 6):
            watch.step(SECOND if number % 2 else -SECOND)
            assert watch.is_told()
        watch.clock.looked_at(3)
        assert watch.count == 5


def test_what_two_readings_differ_by_is_no_step():
    with Watch() as watch:
        for wobble in (SMALLEST_NS, -SMALLEST_NS, SMALLEST_NS // 2):
            watch.step(wobble)
            watch.clock.looked_at(2)
        assert watch.count == 0


def test_without_a_timer_of_the_kernel_the_comparison_remains_and_it_is_said(monkeypatch):
    monkeypatch.setattr(steps, "open_timer", no_timer)
    with Watch() as watch:
        assert not watch.watcher.at_once
        assert watch.said == [
            "The kernel gives no timer that tells when the clock is set "
            "(Function not implemented): a step is noticed within a second."
        ]
        watch.step(SECOND)
        assert watch.is_told()


def test_it_looks_once_a_second_unless_told():
    assert steps.PERIOD_SECONDS <= 1.0, "a step is noticed within a second (design rule 17)"


def test_what_goes_wrong_with_the_news_is_said_and_the_watch_goes_on():
    def full() -> None:
        raise RuntimeError("the queue is full")

    with Watch(full) as watch:
        for _ in range(2):
            watch.step(SECOND)
            assert watch.is_told()
        watch.clock.looked_at(2)
        assert (
            watch.said
            == ["A step of the clock could not be passed on: RuntimeError('the queue is full')"] * 2
        )


# ── the kernel's timer ───────────────────────────────────────────────────────────────────────────


def test_this_kernel_gives_a_timer_that_is_set_and_has_nothing_to_tell():
    timer = open_timer()
    try:
        assert not arm(timer)
        assert select.select([timer], [], [], 0) == ([], [], [])
        assert not timer_told(timer)
    finally:
        os.close(timer)


def test_that_its_time_has_come_is_no_step_and_it_is_set_anew():
    timer = open_timer()
    try:
        set_timer(timer, time.time_ns() + 1_000_000)
        assert select.select([timer], [], [], PATIENCE)[0] == [timer]
        assert not timer_told(timer)
        assert select.select([timer], [], [], 0)[0] == [], "set anew, a day ahead"
    finally:
        os.close(timer)


def test_the_timer_is_not_handed_on_to_other_programs():
    timer = open_timer()
    try:
        assert not os.get_inheritable(timer)
    finally:
        os.close(timer)


def test_the_error_with_which_the_kernel_tells_of_a_step_is_told(monkeypatch):
    """read(2) of a cancelled timer fails with ECANCELED (timerfd_create(2))."""

    def cancelled(descriptor: int, size: int) -> bytes:
        raise OSError(errno.ECANCELED, os.strerror(errno.ECANCELED))

    timer = open_timer()
    try:
        with monkeypatch.context() as patch:
            patch.setattr(os, "read", cancelled)
            assert timer_told(timer)
        assert not timer_told(timer), "it was set anew"
    finally:
        os.close(timer)


def test_a_step_between_reading_and_setting_anew_is_told_too(monkeypatch):
    """Setting it fails with ECANCELED then, and sets it all the same (timerfd_create(2), NOTES)."""

    def set_and_told(timer: int, utc: int) -> None:
        raise OSError(errno.ECANCELED, os.strerror(errno.ECANCELED))

    monkeypatch.setattr(steps, "set_timer", set_and_told)
    timer = open_timer()
    try:
        assert timer_told(timer)
    finally:
        os.close(timer)


def readable(told: bool) -> tuple[Callable[[], int], Callable[[int], None], Callable[[int], bool]]:
    """In place of the kernel's timer a descriptor that a test makes readable."""

    def open_one() -> int:
        return os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)

    def fire(timer: int) -> None:
        os.eventfd_write(timer, 1)

    def read(timer: int) -> bool:
        os.eventfd_read(timer)
        return told

    return open_one, fire, read


def test_the_kernels_word_is_passed_on_at_once_whatever_the_comparison_says(monkeypatch):
    """The period is an hour: only the timer can have woken it."""
    open_one, fire, read = readable(told=True)
    monkeypatch.setattr(steps, "open_timer", open_one)
    monkeypatch.setattr(steps, "arm", lambda timer: False)
    monkeypatch.setattr(steps, "timer_told", read)
    with Watch(period=3600) as watch:
        assert watch.watcher.at_once
        assert watch.watcher._timer is not None
        fire(watch.watcher._timer)
        assert watch.is_told()


def test_a_timer_that_goes_wrong_is_given_up_and_the_comparison_remains(monkeypatch):
    open_one, fire, _ = readable(told=True)

    def broken(timer: int) -> bool:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(steps, "open_timer", open_one)
    monkeypatch.setattr(steps, "arm", lambda timer: False)
    monkeypatch.setattr(steps, "timer_told", broken)
    with Watch() as watch:
        assert watch.watcher._timer is not None
        fire(watch.watcher._timer)
        watch.clock.looked_at(3)
        assert not watch.watcher.at_once
        assert watch.count == 0
        watch.step(SECOND)
        assert watch.is_told()
        assert len(watch.said) == 1


# ── on this machine, whole ───────────────────────────────────────────────────────────────────────


def open_descriptors() -> set[str]:
    return set(os.listdir("/proc/self/fd"))


def test_the_watch_begins_and_ends_and_leaves_nothing_open():
    before, threads = open_descriptors(), threading.active_count()
    told: list[None] = []
    watcher = StepWatcher(lambda: told.append(None), told.append)  # type: ignore[arg-type]
    assert watcher.at_once, "this kernel gives the timer"
    watcher.close()
    watcher.close()
    assert open_descriptors() == before
    assert threading.active_count() == threads
    assert told == []


def test_closing_does_not_wait_for_the_period():
    with Watch(period=3600) as watch:
        began = time.monotonic()
        watch.watcher.close()
        assert time.monotonic() - began < PATIENCE


def test_two_looks_at_this_machines_clocks_differ_by_less_than_a_step():
    assert abs(real_ahead_ns() - real_ahead_ns()) <= SMALLEST_NS


def test_an_instant_that_no_timer_can_hold_is_refused_and_not_cut():
    timer = open_timer()
    try:
        with pytest.raises((OSError, OverflowError)):  # the second is CPython's own
            set_timer(timer, 2**63 * SECOND)
    finally:
        os.close(timer)
