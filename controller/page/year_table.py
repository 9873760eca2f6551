"""A drawn year as a table: the dates that depart from the usual, and the clock's changes."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from controller.pictures.year import Year, YearDay
from controller.timetable.differences import date_words


class Departure(NamedTuple):
    """Dates that follow each other and depart alike."""

    first: date
    last: date
    plan: str
    why: str

    @property
    def when(self) -> str:
        """ "Fri 18 Dec", "Sat 19 Dec to Sun 3 Jan"."""
        first, last = date_words(self.first), date_words(self.last)
        return first if self.first == self.last else f"{first} to {last}"

    @property
    def days(self) -> int:
        """How many dates they are."""
        return (self.last - self.first).days + 1


def departures(year: Year) -> list[Departure]:
    """In the order of their dates."""
    found: list[Departure] = []
    for day in year.days:
        why = _why(day)
        if not why:
            continue
        last = found[-1] if found else None
        if (
            last is not None
            and (last.plan, last.why) == (day.plan, why)
            and day.date - last.last == timedelta(days=1)
        ):
            found[-1] = last._replace(last=day.date)
        else:
            found.append(Departure(day.date, day.date, day.plan, why))
    return found


def _why(day: YearDay) -> str:
    if not day.exists:
        return "the local calendar skips this date"
    words = [day.why] if day.departs else []
    return "; ".join([*words, *(change.words for change in day.changes)])
