"""The timetable: which rings a date has, and what is due when. Pure, and remembered by the day.

What decides a date's plan (design rule 4): a one-off order, else the calendar (an `on` beats a
range; among equals the later in the file), else a public holiday, else the usual, which is week
and tape together. The first three replace the usual whole; where their plan is `usual` they bring
it back, whatever they outrank.

Quiet rows come last (design rule 5). They are lifted by the calendar entry that decides the date
among the entries, if it says so. A one-off order that names a plan changes what is rung on that
date, not whether the building is open: the entry's word on the quiet rows still holds. The order
`usual` sets the calendar aside whole, and with it the lifting.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time, timedelta
from operator import attrgetter
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from controller.building.civil import SECOND
from controller.building.values import NO_RINGS, USUAL, HalfDay
from controller.timetable.holidays import public_holidays
from controller.timetable.rings import DAY, Entry, Part, Ring, plan_entries, usual_entries
from controller.timetable.soundings import Sounding, chains, soundings_of

if TYPE_CHECKING:
    from controller.building.kept import CalendarEntry
    from controller.building.model import Building

Source = Literal["order", "calendar", "holiday", "usual"]
LOOK_AHEAD_DAYS = 800  # of `upcoming`
NEXT_DUE_DAYS = 400  # of `next_due`
JOIN_DAYS = 2  # rings this far apart are never sought for one sounding
_MOST_DAYS = 802  # kept in mind; then it starts anew, and likewise
_MOST_RINGS = 300_000  # beyond these, some 60 MB
_EPOCH_ORDINAL = date(1970, 1, 1).toordinal()
_PARTS: tuple[Part, ...] = get_args(Part)
_due = attrgetter("due")


class Day(NamedTuple):
    """One date of the timetable."""

    date: date
    plan: str  # a plan's name, "none", or "usual": week and tape together
    source: Source  # what decided the plan
    says: str  # the calendar entry's text or the holiday's name, else ""
    rings: tuple[Ring, ...]  # by (due, zone's place in the file, written)
    silenced: tuple[Ring, ...]  # what quiet rows took away, in the same order
    exists: bool  # False where the local calendar skips the date; then it has no rings


class _Choice(NamedTuple):
    plan: str
    source: Source
    says: str
    lifts_quiet: bool


class _Stretch(NamedTuple):
    """What is due within one day of UTC, in order.

    Stretches follow each other without overlap, which local dates do not where the clock skips
    midnight.
    """

    dues: list[int]
    rings: list[Ring]


class Timetable:
    """A building's rings, with the one-off orders `follow`: date → plan, "none" or "usual".

    An order whose plan the file no longer has is not followed; `lost_orders` names it, so that it
    can be said aloud.
    """

    def __init__(self, building: Building, follow: Mapping[date, str] | None = None) -> None:
        self._building = building
        self._civil = building.civil
        self._place = {zone: number for number, zone in enumerate(building.zones)}
        self._entries: dict[tuple[str, str], tuple[Entry, ...]] = {}  # of plans once they were due
        self._quiet = {weekday: _quiet_parts(building, weekday) for weekday in range(1, 8)}
        known = {USUAL, NO_RINGS, *building.plans}
        self._orders = {day: plan for day, plan in (follow or {}).items() if plan in known}
        self.lost_orders = {day: plan for day, plan in (follow or {}).items() if plan not in known}
        self._days: dict[date, Day] = {}
        self._stretches: dict[int, _Stretch] = {}  # of days kept, and so no more than they
        self._rings_kept = 0

    # ── a date ───────────────────────────────────────────────────────────────────────────────

    def day(self, on: date) -> Day:
        """The rings of a local date, and what decided them."""
        day = self._days.get(on)
        if day is None:
            day = self._made(on)
            if len(self._days) >= _MOST_DAYS or self._rings_kept > _MOST_RINGS:
                self._days.clear()
                self._stretches.clear()
                self._rings_kept = 0
            self._days[on] = day
            self._rings_kept += len(day.rings) + len(day.silenced)
        return day

    def _made(self, on: date) -> Day:
        choice = self._choice(on)
        weekday = on.isoweekday()
        entries = self._entries_of(choice.plan, weekday)
        start = self._even_start(on)
        exists = start is not None or self._civil.date_exists(on)
        if not exists:
            entries = ()
        quiet = self._quiet_on(on, choice)
        rings = self._dated(on, start, [e for e in entries if (e.zone, e.part) not in quiet])
        silenced = self._dated(on, start, [e for e in entries if (e.zone, e.part) in quiet])
        return Day(on, choice.plan, choice.source, choice.says, rings, silenced, exists)

    def _entries_of(self, plan: str, weekday: int) -> tuple[Entry, ...]:
        """What a plan rings, made when it is first due. Weekdays of one plan have it in common."""
        usual = self._building.week.get(weekday, NO_RINGS) if plan == USUAL else ""
        entries = self._entries.get((plan, usual))
        if entries is None:
            building = self._building
            entries = usual_entries(building, weekday) if usual else plan_entries(building, plan)
            self._entries[plan, usual] = entries
        return entries

    def quiet_parts(self, on: date) -> frozenset[tuple[str, Part]]:
        """The zones and parts of a date that the quiet rows keep free of bells, liftings heeded."""
        return self._quiet_on(on, self._choice(on))

    def _quiet_on(self, on: date, choice: _Choice) -> frozenset[tuple[str, Part]]:
        return frozenset() if choice.lifts_quiet else self._quiet[on.isoweekday()]

    def _choice(self, on: date) -> _Choice:
        entry = self.calendar_entry(on)
        order = self._orders.get(on)
        lifts = entry is not None and entry.lift_quiet
        if order is not None:
            return _Choice(order, "order", "", lifts and order != USUAL)
        if entry is not None:
            return _Choice(entry.plan, "calendar", entry.says, lifts)
        holidays = self._building.holidays
        if holidays is not None:
            name = public_holidays(holidays.country, holidays.subdivision, on.year).get(on)
            if name is not None:
                return _Choice(holidays.plan, "holiday", name, False)
        return _Choice(USUAL, "usual", "", False)

    def calendar_entry(self, on: date) -> CalendarEntry | None:
        """The entry that decides: an `on` beats a range; among equals the later in the file."""
        ranges = None
        for entry in reversed(self._building.calendar):
            if entry.first <= on <= entry.last:
                if entry.single:
                    return entry
                ranges = ranges or entry
        return ranges

    def _even_start(self, on: date) -> int | None:
        """The instant of midnight, where the local clock runs evenly from there through the day."""
        midnight = datetime.combine(on, time.min)
        start = self._civil.instant(midnight)
        even = self._civil.occurs(midnight) and (
            self._civil.next_change(start, start + DAY) is None
        )
        return start if even else None

    def _dated(self, on: date, even_start: int | None, entries: list[Entry]) -> tuple[Ring, ...]:
        """The entries as rings of that date; where the clock changes each time is read alone."""
        day = on.isoformat()
        if even_start is not None:
            return tuple(
                Ring(e.zone, day + e.written, even_start + e.at, e.closings, e.says)
                for e in entries
            )
        midnight = datetime.combine(on, time.min)
        rings = (
            Ring(
                e.zone,
                day + e.written,
                self._civil.instant(midnight + timedelta(seconds=e.at // SECOND)),
                e.closings,
                e.says,
            )
            for e in entries
        )
        return tuple(sorted(rings, key=self._order))

    def _order(self, ring: Ring) -> tuple[int, int, str]:
        return ring.due, self._place[ring.zone], ring.written

    # ── a span of time ───────────────────────────────────────────────────────────────────────

    def window(self, start_utc: int, end_utc: int) -> Iterator[Ring]:
        """Rings due in [start, end), by (due, zone's place in the file, written)."""
        for number in range(start_utc // DAY, -(-end_utc // DAY)):
            dues, rings = self._stretch(number)
            if number * DAY >= start_utc and (number + 1) * DAY <= end_utc:
                yield from rings
            else:
                yield from rings[bisect_left(dues, start_utc) : bisect_left(dues, end_utc)]

    def upcoming(self, after_utc: int) -> Iterator[Ring]:
        """Rings due at `after` or later, in the order of `window`, 800 days on."""
        return self.window(after_utc, after_utc + LOOK_AHEAD_DAYS * DAY)

    def upcoming_of(self, zone: str, after_utc: int) -> Iterator[Ring]:
        """One zone's rings due at `after` or later, two days on: those that may join a sounding."""
        rings = self.window(after_utc, after_utc + JOIN_DAYS * DAY)
        return (ring for ring in rings if ring.zone == zone)

    def next_due(self, after_utc: int) -> int | None:
        """When the first ring due at `after` or later is due; None if within 400 days none is."""
        end = after_utc + NEXT_DUE_DAYS * DAY
        for number in range(after_utc // DAY, -(-end // DAY)):
            dues = self._stretch(number).dues
            index = bisect_left(dues, after_utc)
            if index < len(dues):
                return dues[index] if dues[index] < end else None
        return None

    def soundings(self, start_utc: int, end_utc: int) -> list[Sounding]:
        """Soundings whose first ring is due in [start, end), by (start, zone's place in the file).

        What sounded shortly before `start` is taken into account, and a sounding that began before
        `end` is followed to its end; either within two days.
        """
        near = JOIN_DAYS * DAY
        rings = self.window(start_utc - near, end_utc + near)
        found = soundings_of(chains(rings, end_utc), self._building.zones)
        return [sounding for sounding in found if start_utc <= sounding.start < end_utc]

    def _stretch(self, number: int) -> _Stretch:
        """What is due on the day of UTC that is `number` days after 1970-01-01."""
        stretch = self._stretches.get(number)
        if stretch is None:
            stretch = self._stretches[number] = self._made_stretch(number)
        return stretch

    def _made_stretch(self, number: int) -> _Stretch:
        # No offset from UTC reaches a day, so three local dates have all that is due on one of UTC.
        rings: list[Ring] = []
        for ordinal in range(_EPOCH_ORDINAL + number - 1, _EPOCH_ORDINAL + number + 2):
            of_date = self.day(date.fromordinal(ordinal)).rings
            first = bisect_left(of_date, number * DAY, key=_due)
            past = bisect_left(of_date, (number + 1) * DAY, key=_due)
            rings += of_date[first:past]
        rings.sort(key=self._order)
        return _Stretch([ring.due for ring in rings], rings)


def plan_label(building: Building, day: Day) -> str:
    """A date's plan: its name; where it is the usual, the weekday's plan, and the tape."""
    if not day.exists:
        return "no such date"
    if day.plan != USUAL:
        return day.plan
    weekday = building.week.get(day.date.isoweekday())
    tape = "tape" if building.tape is not None else None
    return " + ".join(part for part in (weekday, tape) if part) or NO_RINGS


def _quiet_parts(building: Building, weekday: int) -> frozenset[tuple[str, Part]]:
    """The zones and parts of a date on `weekday` that the quiet rows keep free of bells."""
    rows = {half_day(weekday, part): part for part in _PARTS}
    return frozenset(
        (zone, rows[row]) for zone, quiet in building.quiet.items() for row in quiet & rows.keys()
    )


def half_day(weekday: int, part: Part) -> HalfDay:
    """What a quiet row would have to name to silence a part of a date on `weekday` (ISO).

    A night belongs to the day on which it began (design rule 2): what comes before a date's day
    half is the night of the weekday before.
    """
    if part == "before day":
        return (weekday - 2) % 7 + 1, "night"
    return weekday, part
