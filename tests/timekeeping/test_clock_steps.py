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
from controller.timekeeping.steps import StepWatcher, arm, open_timer, set_timer, timer_told

SECOND = 10**9
PATIENCE = 10.0  # seconds, for a thread on a busy machine


class Watch:
    """A watcher with all that it told and said, and in place of the kernel's timer a descriptor
    that a test makes readable; `told`: what reading that comes to.
    """

    def __init__(
        self,
        monkeypatch: pytest.MonkeyPatch,
        told: Callable[[], bool] = lambda: True,
        stepped: Callable[[], None] = lambda: None,
    ) -> None:
        self.said: list[str] = []
        self._heard = threading.Semaphore(0)
        self._read = threading.Semaphore(0)
        self._told, self._also = told, stepped
        monkeypatch.setattr(steps, "open_timer", lambda: os.eventfd(0, os.EFD_NONBLOCK))
        monkeypatch.setattr(steps, "arm", lambda timer: False)
        monkeypatch.setattr(steps, "timer_told", self._look)
        self.watcher = StepWatcher(self._stepped, self.said.append)

    def _look(self, timer: int) -> bool:
        os.eventfd_read(timer)
        self._read.release()
        return self._told()

    def _stepped(self) -> None:
        self._heard.release()
        self._also()

    def fire(self) -> None:
        """The kernel has something to tell; return when it was read."""
        assert self.watcher._timer is not None
        os.eventfd_write(self.watcher._timer, 1)
        assert self._read.acquire(timeout=PATIENCE)

    def is_told(self) -> bool:
        return self._heard.acquire(timeout=PATIENCE)

    def is_told_no_more(self) -> bool:
        self.watcher.close()
        return not self._heard.acquire(blocking=False)

    def __enter__(self) -> Watch:
        return self

    def __exit__(self, *_: object) -> None:
        self.watcher.close()


def no_timer() -> int:
    raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))


# ── the watch ────────────────────────────────────────────────────────────────────────────────────


def test_each_step_that_the_kernel_tells_is_passed_on_once(monkeypatch):
    with Watch(monkeypatch) as watch:
        for _ in range(5):
            watch.fire()
            assert watch.is_told()
        assert watch.is_told_no_more()


def test_that_the_timers_time_has_come_is_passed_on_to_nobody(monkeypatch):
    with Watch(monkeypatch, told=lambda: False) as watch:
        watch.fire()
        assert watch.is_told_no_more()


def test_without_a_timer_of_the_kernel_it_is_said_and_nobody_watches(monkeypatch):
    monkeypatch.setattr(steps, "open_timer", no_timer)
    said: list[str] = []
    watcher = StepWatcher(lambda: None, said.append)
    assert not watcher.at_once
    assert said == [
        "The kernel gives no timer that tells when the clock is set "
        "(Function not implemented): a step is noticed within a second."
    ]
    watcher.close()


def test_a_timer_that_goes_wrong_is_given_up_and_it_is_said(monkeypatch):
    def broken() -> bool:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with Watch(monkeypatch, told=broken) as watch:
        watch.fire()
        assert watch.is_told_no_more()
        assert not watch.watcher.at_once
        assert len(watch.said) == 1


def test_what_goes_wrong_with_the_news_is_said_and_the_watch_goes_on(monkeypatch):
    def full() -> None:
        raise RuntimeError("the queue is full")

    with Watch(monkeypatch, stepped=full) as watch:
        for _ in range(2):
            watch.fire()
            assert watch.is_told()
        watch.watcher.close()
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


def test_an_instant_that_no_timer_can_hold_is_refused_and_not_cut():
    timer = open_timer()
    try:
        with pytest.raises((OSError, OverflowError)):  # the second is CPython's own
            set_timer(timer, 2**63 * SECOND)
    finally:
        os.close(timer)
