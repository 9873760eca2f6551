"""What the coming days would bring, found beforehand by the rehearsal itself (design rules 8, 9).

Dates whose rings are alike come to the same, so each distinct pair of neighbouring dates is
rehearsed once. What is found is then said of every date that is like it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Literal, NamedTuple

from controller.building.civil import SECOND
from controller.rehearsal.record import MissedRecord, RingRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse
from controller.timetable.days import Day, Timetable
from controller.timetable.rings import Ring

if TYPE_CHECKING:
    from controller.building.model import Building

DAYS_AHEAD = 400
What = Literal["cut", "waits", "missed"]


class Finding(NamedTuple):
    """What becomes of one ring of the timetable, where that is not simply that it rings."""

    zone: str
    at: time  # as written
    what: What
    why: str  # "longest", "a-minute", "supply"
    length: int  # ns: how long it waits, or how long it sounds before it is cut; 0 if missed


class Foreseen(NamedTuple):
    """A finding, and the dates on which it holds."""

    finding: Finding
    plan: str  # of these dates
    dates: tuple[date, ...]


class Reread(NamedTuple):
    """A ring whose written time the local clock never shows on its date, or shows twice."""

    ring: Ring
    local: datetime  # naive, as written
    twice: bool


# ── rehearsed ────────────────────────────────────────────────────────────────────────────────────


def foreseen(
    building: Building, timetable: Timetable, first: date, days: int = DAYS_AHEAD
) -> list[Foreseen]:
    """What is cut short, waits or is missed on the dates from `first` on, as things stand.

    In order of first date, time and the zone's place in the file.
    """
    known: dict[tuple[object, ...], tuple[tuple[int, Finding], ...]] = {}
    dates: dict[tuple[Finding, str, str], list[date]] = {}
    for number in range(-1, days):
        day = first + timedelta(days=number)
        pair = timetable.day(day), timetable.day(day + timedelta(days=1))
        start = building.civil.instant(datetime.combine(day, time.min))
        alike = tuple(_outline(one, start) for one in pair)
        if alike not in known:
            known[alike] = tuple(_rehearsed(building, timetable, start, pair))
        for which, finding in known[alike]:
            on = pair[which]
            if first <= on.date < first + timedelta(days=days):
                usual = building.week.get(on.date.isoweekday(), "")
                dates.setdefault((finding, on.plan, usual), []).append(on.date)
    place = {zone: number for number, zone in enumerate(building.zones)}
    found = [Foreseen(finding, plan, tuple(on)) for (finding, plan, _), on in dates.items()]
    return sorted(found, key=lambda one: (one.dates[0], one.finding.at, place[one.finding.zone]))


def _outline(day: Day, start: int) -> tuple[tuple[object, ...], ...]:
    return tuple((r.zone, r.due - start, r.written[10:], r.closings) for r in day.rings)


def _rehearsed(
    building: Building, timetable: Timetable, start: int, pair: tuple[Day, Day]
) -> Iterator[tuple[int, Finding]]:
    """Findings from the first date's noon to the second's, and which of the two they belong to.

    So each has the hours before it in the same rehearsal, and a sounding over midnight is whole.
    """
    if not any(day.rings for day in pair):
        return
    until = building.civil.instant(datetime.combine(pair[1].date + timedelta(days=1), time.min))
    of = {(r.zone, r.due): (which, r) for which, day in enumerate(pair) for r in day.rings}
    limits = {
        (one.zone, one.start): one.cut[1]
        for one in timetable.soundings(start, until)
        if one.cut is not None
    }
    for record in rehearse(building, Script(start, until, lines=False)):
        if not isinstance(record, RingRecord | MissedRecord):
            continue
        whose = of.get((record.zone, record.due))
        if whose is None:  # a clock change near midnight moved it here from the date before
            continue
        which, ring = whose
        at = time.fromisoformat(ring.written[11:])
        if (which == 0) == (at.hour < 12):
            continue
        if isinstance(record, MissedRecord):
            yield which, Finding(record.zone, at, "missed", record.why, 0)
            continue
        if record.at > record.due:
            yield which, Finding(record.zone, at, "waits", "supply", record.at - record.due)
        if record.cut:
            why = limits.get((record.zone, record.due), "longest or a-minute")
            yield which, Finding(record.zone, at, "cut", why, record.length)


# ── read from the timetable ──────────────────────────────────────────────────────────────────────


def reread(
    building: Building, timetable: Timetable, first: date, days: int = DAYS_AHEAD
) -> list[Reread]:
    """Rings whose written time a clock change skips or repeats, from the date `first` on."""
    civil = building.civil
    now = civil.instant(datetime.combine(first, time.min))
    end = civil.instant(datetime.combine(first + timedelta(days=days), time.min))
    dates: dict[date, None] = {}
    while (change := civil.next_change(now, end)) is not None:
        dates |= {civil.date_at(change - SECOND): None, civil.date_at(change): None}
        now = change
    return [
        found
        for day in dates
        if day >= first
        for ring in timetable.day(day).rings
        if (found := _reread(building, ring)) is not None
    ]


def _reread(building: Building, ring: Ring) -> Reread | None:
    civil = building.civil
    local = datetime.fromisoformat(ring.written)
    if not civil.occurs(local):
        return Reread(ring, local, False)
    again = local.replace(tzinfo=civil.zone, fold=1)
    if again.utcoffset() != civil.aware(ring.due).utcoffset():
        return Reread(ring, local, True)
    return None


def silenced(
    building: Building, timetable: Timetable, start_utc: int, end_utc: int
) -> Iterator[Ring]:
    """Rings that quiet rows take away and that were due in [start, end), date by date."""
    day = building.civil.date_at(start_utc) - timedelta(days=1)
    last = building.civil.date_at(end_utc) + timedelta(days=1)
    while day <= last:
        yield from _due_within(timetable.day(day).silenced, start_utc, end_utc)
        day += timedelta(days=1)


def _due_within(rings: Iterable[Ring], start_utc: int, end_utc: int) -> Iterator[Ring]:
    return (ring for ring in rings if start_utc <= ring.due < end_utc)
