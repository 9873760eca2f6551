"""Clock changes of the local time, as a drawing needs them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from controller.building.civil import SECOND, CivilTime
from controller.building.durations import duration_text
from controller.building.values import time_at
from controller.timetable.rings import DAY


class ClockChange(NamedTuple):
    """The local clock goes on, or back. Local times are ns since 1970-01-01 on its face."""

    at: int  # utc, ns
    before: int  # local: what the clock would have shown without the change
    after: int  # local: what it shows

    @property
    def words(self) -> str:
        """ "clocks go on 1h, from 02:00:00 to 03:00:00"."""
        by = self.after - self.before
        way = "on" if by > 0 else "back"
        before, after = (
            time_at(local % DAY).isoformat("seconds") for local in (self.before, self.after)
        )
        return f"clocks go {way} {duration_text(abs(by))}, from {before} to {after}"


def clock_changes(civil: CivilTime, start: int, until: int) -> Iterator[ClockChange]:
    """The changes in [start, until) (utc, ns), in order."""
    now = start - 1
    while (change := civil.next_change(now, until - 1)) is not None:
        offset_before = civil.offset_seconds(change - SECOND) * SECOND
        yield ClockChange(change, change + offset_before, civil.local_ns(change))
        now = change
