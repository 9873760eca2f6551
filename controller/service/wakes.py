"""Single dated wake-ups, carried by APScheduler. When they are due, the engine decides.

The scheduler sleeps on the monotonic clock and does not see the system's clock being stepped; the
engine's loop notices that at its next beat and asks anew. No wake-up is dropped for being late.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.background import BackgroundScheduler

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LAST = datetime(9999, 1, 1, tzinfo=UTC)


class Wakes:
    def __init__(self, wake: Callable[[], None], daily: Callable[[], None]) -> None:
        """`wake` is called at each dated wake-up, `daily` once a day for housekeeping."""
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        self._wake = wake
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"misfire_grace_time": None, "coalesce": True}
        )
        self._scheduler.add_job(daily, "interval", hours=24, id="housekeeping")
        self._scheduler.start()

    def wake_at(self, utc: int) -> None:
        """One wake-up at `utc` (ns), in place of the one before."""
        when = min(_EPOCH + timedelta(microseconds=utc // 1000 + 1), _LAST)
        self._scheduler.add_job(self._wake, "date", run_date=when, id="look", replace_existing=True)

    def close(self) -> None:
        self._scheduler.shutdown(wait=False)
