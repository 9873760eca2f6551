"""Single dated wake-ups, carried by APScheduler. When they are due, the engine decides.

The scheduler sleeps on the monotonic clock and does not see the system's clock being stepped; the
engine's loop notices that at its next beat and asks anew. No wake-up is dropped for being late.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.background import BackgroundScheduler

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LAST = datetime(9999, 1, 1, tzinfo=UTC)
_ALIKE_NS = 1_000_000  # wake-ups no farther apart are one


class Wakes:
    def __init__(self, wake: Callable[[], None], daily: Callable[[], None]) -> None:
        """`wake` is called at each dated wake-up, `daily` once a day for housekeeping."""
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        self._wake = wake
        self._awaited: int | None = None  # mono
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"misfire_grace_time": None, "coalesce": True}
        )
        self._scheduler.add_job(daily, "interval", hours=24, id="housekeeping")
        self._scheduler.start()

    def wake_at(self, utc: int) -> None:
        """One wake-up at `utc` (ns), in place of the one before; from one thread.

        Where that is still to come at the same instant nothing has to be done, which is most often
        so: the engine asks at each step, and a scheduler that is asked wakes up to think.
        """
        mono = utc - time.time_ns() + time.monotonic_ns()  # a step of the clock makes it another
        if self._awaited is not None and abs(mono - self._awaited) < _ALIKE_NS:
            return
        self._awaited = mono
        when = min(_EPOCH + timedelta(microseconds=utc // 1000 + 1), _LAST)
        self._scheduler.add_job(self._due, "date", run_date=when, id="look", replace_existing=True)

    def _due(self) -> None:
        self._awaited = None
        self._wake()

    def close(self) -> None:
        """No wake-up comes after this."""
        # Its thread fails where the scheduler is shut down while a job that was due is let go.
        self._scheduler.remove_all_jobs()
        self._scheduler.shutdown(wait=False)
