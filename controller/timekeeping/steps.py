"""Hears from the kernel, at once, that the system's clock was set.

A `timerfd` on CLOCK_REALTIME with TFD_TIMER_CANCEL_ON_SET (timerfd_create(2)) becomes readable,
with the error ECANCELED, when the clock is set or a leap second is inserted; slewing leaves it
alone. Where the kernel gives no such timer, or does not report a step, the engine finds it within a
second, as it compares both clocks at each beat (service/engine_room.py).
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import select
import sys
import threading
import time
from collections.abc import Callable

from controller.building.durations import DAY, SECOND

_AHEAD_NS = DAY  # what the timer is set to; that it has come is no news

if sys.version_info >= (3, 13):

    def open_timer() -> int:
        """A real-time timer's descriptor. `OSError` where the kernel gives none."""
        flags = os.TFD_NONBLOCK | os.TFD_CLOEXEC
        return os.timerfd_create(time.CLOCK_REALTIME, flags=flags)

    def set_timer(timer: int, utc: int) -> None:
        """Set it to `utc` (ns), to be cancelled where the clock is set.

        `OSError` ECANCELED: it is set, and the clock was set since it last was.
        """
        flags = os.TFD_TIMER_ABSTIME | os.TFD_TIMER_CANCEL_ON_SET
        os.timerfd_settime_ns(timer, flags=flags, initial=utc)

else:
    # sys/timerfd.h. `long` is what the C library's symbol takes, on 32-bit machines too: programs
    # with 64-bit time are compiled against another one.
    _TFD_TIMER_ABSTIME, _TFD_TIMER_CANCEL_ON_SET = 1, 2
    _libc = ctypes.CDLL(None, use_errno=True)

    class _Itimerspec(ctypes.Structure):
        _fields_ = tuple(
            (name, ctypes.c_long)
            for name in ("interval_sec", "interval_nsec", "value_sec", "value_nsec")
        )

    def open_timer() -> int:
        """A real-time timer's descriptor. `OSError` where the kernel gives none."""
        return _checked(_libc.timerfd_create(time.CLOCK_REALTIME, os.O_NONBLOCK | os.O_CLOEXEC))

    def set_timer(timer: int, utc: int) -> None:
        """Set it to `utc` (ns), to be cancelled where the clock is set.

        `OSError` ECANCELED: it is set, and the clock was set since it last was.
        """
        seconds, rest = divmod(utc, SECOND)
        if ctypes.c_long(seconds).value != seconds:
            raise OSError(errno.EOVERFLOW, os.strerror(errno.EOVERFLOW))
        flags = _TFD_TIMER_ABSTIME | _TFD_TIMER_CANCEL_ON_SET
        wanted = _Itimerspec(0, 0, seconds, rest)
        _checked(_libc.timerfd_settime(timer, flags, ctypes.byref(wanted), None))

    def _checked(result: int) -> int:
        if result < 0:
            fault = ctypes.get_errno()
            raise OSError(fault, os.strerror(fault))
        return result


def timer_told(timer: int) -> bool:
    """Read a timer that is readable, and set it anew: whether the clock was set.

    Other `OSError`s are passed on; the timer is of no more use then.
    """
    told = False
    try:
        os.read(timer, 8)
    except BlockingIOError:
        pass
    except OSError as fault:
        if fault.errno != errno.ECANCELED:
            raise
        told = True
    return arm(timer) or told


def arm(timer: int) -> bool:
    """Set a timer a day ahead: whether the clock was set since it last was."""
    try:
        set_timer(timer, time.time_ns() + _AHEAD_NS)
    except OSError as fault:
        if fault.errno != errno.ECANCELED:
            raise
        return True
    return False


class StepWatcher:
    """Calls `stepped` on a thread of its own as the clock is set.

    It may call once too often, so `stepped` should only have somebody look again. What `stepped`
    raises is said, and the watch goes on.
    """

    def __init__(self, stepped: Callable[[], None], say: Callable[[str], None]) -> None:
        """Begin to watch. `say` is told in words where the kernel does not tell."""
        self._stepped = stepped
        self._say = say
        self._closing = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._timer: int | None = None
        self._take_timer()
        self._thread = threading.Thread(target=self._watch, name="clock-steps", daemon=True)
        self._thread.start()

    @property
    def at_once(self) -> bool:
        """Whether the kernel tells of a step as it happens."""
        return self._timer is not None

    def close(self) -> None:
        """End the watch; `stepped` is not called after this. More than once does no harm."""
        if self._closing < 0:
            return
        os.eventfd_write(self._closing, 1)
        self._thread.join()
        os.close(self._closing)
        self._closing = -1
        self._drop_timer()

    def _take_timer(self) -> None:
        try:
            self._timer = open_timer()
            arm(self._timer)
        except OSError as fault:
            self._do_without(fault)

    def _do_without(self, fault: OSError) -> None:
        self._drop_timer()
        self._say(
            "The kernel gives no timer that tells when the clock is set "
            f"({fault.strerror}): a step is noticed within a second."
        )

    def _drop_timer(self) -> None:
        timer, self._timer = self._timer, None
        if timer is not None:
            with contextlib.suppress(OSError):
                os.close(timer)

    def _watch(self) -> None:
        while self._timer is not None:
            if self._closing in self._readable(self._timer):
                return
            self._look_at(self._timer)

    def _readable(self, timer: int) -> set[int]:
        poll = select.poll()
        for descriptor in (self._closing, timer):
            poll.register(descriptor, select.POLLIN)
        return {descriptor for descriptor, _ in poll.poll()}

    def _look_at(self, timer: int) -> None:
        try:
            told = timer_told(timer)
        except OSError as fault:
            self._do_without(fault)
            return
        if told:
            self._tell()

    def _tell(self) -> None:
        try:
            self._stepped()
        except Exception as fault:
            self._say(f"A step of the clock could not be passed on: {fault!r}")
