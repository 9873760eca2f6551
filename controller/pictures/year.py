"""A year as a drawing has it: each date by its plan, and by name what departs from the usual."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from controller.pictures.changes import ClockChange, clock_changes
from controller.pictures.plans import Sign, Signs, lost_orders, why_text
from controller.timetable.days import Timetable, plan_label
from controller.timetable.differences import date_words

if TYPE_CHECKING:
    from controller.building.model import Building

MONTHS = 12
_MOST_RUNS = 3  # said singly


class YearDay(NamedTuple):
    """One date."""

    date: date
    plan: str
    sign: Sign
    departs: bool  # from the usual, by calendar, holiday or order
    exists: bool
    why: str  # "Winter break", "public holiday: Labour Day", or ""
    changes: tuple[ClockChange, ...]


class Notice(NamedTuple):
    """What is out of the ordinary, and on which dates: days that belong together are one."""

    dates: tuple[date, ...]
    sign: Sign | None  # of the plan; None for a clock change
    words: str

    @property
    def runs(self) -> list[tuple[date, date]]:
        """Its dates as stretches, first and last date of each."""
        found = [(self.dates[0], self.dates[0])]
        for before, after in pairwise(self.dates):
            if after - before == timedelta(days=1):
                found[-1] = found[-1][0], after
            else:
                found.append((after, after))
        return found

    @property
    def when(self) -> str:
        """ "Mon 15 Feb", "19 Dec–3 Jan", "19–24 Dec, Tue 29 Dec", "52 days from 3 Jan"."""
        runs = self.runs
        if len(runs) > _MOST_RUNS:
            first = self.dates[0]
            return f"{len(self.dates)} days from {first.day} {first:%b}"
        return ", ".join(_run_text(*run) for run in runs)


def _run_text(first: date, last: date) -> str:
    if first == last:
        return date_words(first)
    start = f"{first.day}" if first.month == last.month else f"{first.day} {first:%b}"
    return f"{start}–{last.day} {last:%b}"


class Year(NamedTuple):
    """Twelve months of a building, ready to be drawn."""

    building: str
    timezone: str
    days: tuple[YearDay, ...]
    notices: tuple[Notice, ...]  # by their first date
    remarks: tuple[str, ...]

    @property
    def months(self) -> list[list[YearDay]]:
        """Its dates month by month."""
        found: dict[tuple[int, int], list[YearDay]] = {}
        for day in self.days:
            found.setdefault((day.date.year, day.date.month), []).append(day)
        return list(found.values())

    @property
    def plans(self) -> list[tuple[str, Sign, int]]:
        """What the signs mean: each plan, its sign, and on how many dates; the file's order."""
        found: dict[tuple[str, Sign], int] = {}
        for day in self.days:
            found[day.plan, day.sign] = found.get((day.plan, day.sign), 0) + 1
        last = len(self.days)

        def place(one: tuple[str, Sign]) -> tuple[int, bool]:
            return (last if one[1].place is None else one[1].place), not one[1].tape

        return [(*one, found[one]) for one in sorted(found, key=place)]

    @property
    def title(self) -> str:
        """ "2026", or "September 2026 to August 2027"."""
        first, last = self.days[0].date, self.days[-1].date
        if first.year == last.year:
            return f"{first.year}"
        return f"{first:%B} {first.year} to {last:%B} {last.year}"


def year_of(building: Building, timetable: Timetable, first: date, remark: str = "") -> Year:
    """Twelve months from the first of a month. `remark` is what else is to be said of them."""
    assert first.day == 1, "a year begins with a month"
    civil, signs = building.civil, Signs(building)
    end = first.replace(year=first.year + 1)
    start, until = (civil.instant(datetime.combine(one, time.min)) for one in (first, end))
    changes: dict[date, list[ClockChange]] = {}
    for change in clock_changes(civil, start, until):
        changes.setdefault(civil.date_at(change.at), []).append(change)
    days = []
    for number in range((end - first).days):
        day = timetable.day(first + timedelta(days=number))
        departs = day.source != "usual" and day.exists
        days.append(
            YearDay(
                day.date,
                plan_label(building, day),
                signs.of(day),
                departs,
                day.exists,
                why_text(day) if departs else "",
                tuple(changes.get(day.date, ())),
            )
        )
    remarks = (*lost_orders(timetable, first, end), *filter(None, [remark]))
    return Year(building.name, civil.key, tuple(days), tuple(_notices(days)), remarks)


def _notices(days: Sequence[YearDay]) -> Iterator[Notice]:
    """Dates that depart for the same reason to the same plan are said together."""
    together: dict[tuple[Sign | None, str], list[date]] = {}
    for day in days:
        if not day.exists:
            together.setdefault((day.sign, day.plan), []).append(day.date)
        elif day.departs:
            together.setdefault((day.sign, f"{day.why} ({day.plan})"), []).append(day.date)
        for change in day.changes:
            if day.exists:
                together.setdefault((None, change.words), []).append(day.date)
    for (sign, words), dates in together.items():
        yield Notice(tuple(dates), sign, words)
