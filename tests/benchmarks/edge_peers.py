"""What the hand's edges are compared with: programs that make edges at instants, each its own way.

    python tests/benchmarks/edge_peers.py PEER BOARD PIN FIRST SECONDS

Started by `edges_late.py`. Each is a process of its own and has, like the hand, its memory locked
and no collector pauses; it holds a pin of the same fake board through the same pin factory. In each
of so many seconds from FIRST (utc, ns) on it makes twenty edges, 50 ms apart.
"""

from __future__ import annotations

import ctypes
import gc
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path

from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from gpiozero import LED

from controller.circuits.fakeboard.pins import FakePins

SECOND = 1_000_000_000
STROKE = SECOND // 20
EDGES = 20  # a second; a blink makes two fewer, as it waits once more after its last
_MCL_CURRENT_AND_FUTURE = 3
_TIMER_ABSTIME = 1
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
Turned = Callable[[int], None]  # makes the edge that was due at an instant


class _Timespec(ctypes.Structure):
    _fields_ = (("seconds", ctypes.c_long), ("nanoseconds", ctypes.c_long))


_libc = ctypes.CDLL(None, use_errno=True)


def sleep_until(utc: int) -> None:
    """`clock_nanosleep` to an instant of the system's clock."""
    until = _Timespec(*divmod(utc, SECOND))
    _libc.clock_nanosleep(time.CLOCK_REALTIME, _TIMER_ABSTIME, ctypes.byref(until), None)


def by_clock_nanosleep(first: int, seconds: int, turn: Turned) -> None:
    """A loop around the kernel's own sleep."""
    for due in dues(first, seconds):
        sleep_until(due)
        turn(due)


def by_event_wait(first: int, seconds: int, turn: Turned) -> None:
    """A loop around `threading.Event.wait`."""
    never = threading.Event()
    for due in dues(first, seconds):
        never.wait(max(0, due - time.time_ns()) / SECOND)
        turn(due)


def by_date_jobs(first: int, seconds: int, turn: Turned) -> None:
    """APScheduler: single dated jobs, of which ten are ahead; each that is carried out adds one."""
    coming = dues(first, seconds)
    scheduler = _scheduler()

    def job(due: int) -> None:
        turn(due)
        add()

    def add() -> None:
        for due in islice(coming, 1):
            at = _EPOCH + timedelta(microseconds=due // 1000)
            scheduler.add_job(job, "date", run_date=at, args=[due])

    for _ in range(10):
        add()
    scheduler.start()
    sleep_until(first + (seconds + 1) * SECOND)
    scheduler.shutdown()


class _CronAndLater(CronTrigger):
    """Cron, which knows whole seconds only, and so much later."""

    def __init__(self, later: timedelta) -> None:
        super().__init__(second="*", timezone=UTC)
        self._later = later

    def get_next_fire_time(self, previous: datetime | None, now: datetime) -> datetime:
        before = None if previous is None else previous - self._later
        return super().get_next_fire_time(before, now - self._later) + self._later


def by_cron_jobs(first: int, seconds: int, turn: Turned) -> None:
    """APScheduler: twenty cron jobs, each of every second."""
    scheduler = _scheduler()
    sleep_until(first - SECOND // 2)
    for number in range(EDGES):
        due = first + number * STROKE
        later = timedelta(microseconds=due % SECOND // 1000)
        scheduler.add_job(turn, _CronAndLater(later), args=[due])
    sleep_until(first - STROKE // 2)
    scheduler.start()
    sleep_until(first + seconds * SECOND - STROKE // 2)
    scheduler.shutdown()


def blink(first: int, seconds: int, pins: FakePins, pin: int) -> None:
    """gpiozero's `blink`, begun at its instant by `clock_nanosleep`, once a second."""
    led = LED(pin, pin_factory=pins)
    for number in range(seconds):
        sleep_until(first + number * SECOND)
        strokes = (EDGES - 2) // 2
        led.blink(STROKE / SECOND, STROKE / SECOND, n=strokes, background=False)


def dues(first: int, seconds: int) -> Iterator[int]:
    """The instants of all edges."""
    return (first + number * STROKE for number in range(seconds * EDGES))


def _scheduler() -> BackgroundScheduler:
    """As one would set it for bells: no job is dropped for being late. One worker: it has a pin."""
    defaults = {"misfire_grace_time": None, "coalesce": False}
    return BackgroundScheduler(
        executors={"default": ThreadPoolExecutor(1)}, job_defaults=defaults, timezone=UTC
    )


BY_TURNS = {
    "clock_nanosleep": by_clock_nanosleep,
    "Event.wait": by_event_wait,
    "APScheduler date jobs": by_date_jobs,
    "APScheduler cron jobs": by_cron_jobs,
}
BLINK = "gpiozero blink"
PEERS = (*BY_TURNS, BLINK)


def main() -> None:
    peer, board, pin, first, seconds = sys.argv[1:]
    pins = FakePins(Path(board), {int(pin): False}, {})
    gc.collect()
    gc.freeze()
    gc.disable()
    _libc.mlockall(_MCL_CURRENT_AND_FUTURE)
    if peer == BLINK:
        blink(int(first), int(seconds), pins, int(pin))
        return

    def turn(due: int) -> None:
        number = (due - int(first)) // STROKE
        pins.set_many({int(pin): number % 2 == 0})

    BY_TURNS[peer](int(first), int(seconds), turn)


if __name__ == "__main__":
    main()
