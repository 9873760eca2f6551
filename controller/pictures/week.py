"""A week as a drawing has it: what stands in which zone's lane, on which day, and where.

Both renderings, on a sheet and in a terminal, are made from this, so nothing is decided twice. It
is the timetable's word: waits for the supply, quiet orders and hands on buttons are not in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, NamedTuple

from controller.building.civil import HOUR, SECOND, CivilTime
from controller.building.values import WEEKDAYS, ns_of_day
from controller.pictures.changes import ClockChange, clock_changes
from controller.pictures.plans import Sign, Signs, lost_orders, why_text
from controller.timetable.contact import Closing, moved
from controller.timetable.days import Day, Timetable, plan_label
from controller.timetable.differences import closings_words
from controller.timetable.rings import DAY, Part, Ring, joined
from controller.timetable.soundings import Sounding

if TYPE_CHECKING:
    from controller.building.kept import Halves
    from controller.building.model import Building

DAYS = 7
_EPOCH_ORDINAL = date(1970, 1, 1).toordinal()
_LEAST_HOURS = 6  # shown, however few of them hold a mark


class Mark(NamedTuple):
    """One sounding, or one ring that a quiet row silences."""

    at: int  # ns of the local day, as the clock shows it when it begins
    due: int  # utc, ns
    closings: tuple[Closing, ...]  # ns from `due`, as it sounds, or would
    says: str
    quiet: str  # the half-day of the quiet row that silences it, "sat night"; "" if it sounds
    cut: str  # the limit that ends it early, "longest" or "a-minute", or ""
    missed: int  # rings of it that are missed by that

    @property
    def length(self) -> int:
        """From its beginning to its last opening, ns."""
        return self.closings[-1][1] if self.closings else 0


class Row(NamedTuple):
    """One zone on one day."""

    marks: tuple[Mark, ...]  # in order of due
    quiet: tuple[tuple[int, int], ...]  # stretches of a quiet row, ns of the local day

    @property
    def sounding(self) -> int:
        """How many marks sound."""
        return sum(not mark.quiet for mark in self.marks)


class Lane(NamedTuple):
    """One zone's week."""

    zone: str
    title: str
    rows: tuple[Row, ...]  # seven, Monday first


class DayHead(NamedTuple):
    """One day of the week: its plan and what is out of the ordinary."""

    date: date
    plan: str
    sign: Sign
    departs: bool  # from the usual, by calendar, holiday or order
    exists: bool
    why: str  # "Winter break", "public holiday: Labour Day", or ""
    changes: tuple[ClockChange, ...]

    def stretches(self, *, twice: bool) -> Iterator[tuple[int, int]]:
        """What of it the clock shows twice, or never: ns of the local day."""
        midnight = local_midnight(self.date)
        for change in self.changes:
            low, high = sorted((change.before, change.after))
            start, end = max(low, midnight) - midnight, min(high, midnight + DAY) - midnight
            if (change.after < change.before) == twice and start < end:
                yield start, end


class Week(NamedTuple):
    """A week of a building, ready to be drawn."""

    building: str
    timezone: str
    days: tuple[DayHead, ...]  # seven, Monday first
    lanes: tuple[Lane, ...]  # in the file's order
    day_half: int  # when the halves begin, ns of the local day
    night_half: int
    remarks: tuple[str, ...]

    @property
    def marks(self) -> Iterator[Mark]:
        """All marks, lane by lane."""
        return (mark for lane in self.lanes for row in lane.rows for mark in row.marks)

    @property
    def title(self) -> str:
        """ "Week 48 of 2026, 23 to 29 November 2026"."""
        first, last = self.days[0].date, self.days[-1].date
        year, number, _ = first.isocalendar()
        start = f"{first.day}"
        if first.month != last.month:
            start += f" {first:%B}"
        if first.year != last.year:
            start += f" {first.year}"
        return f"Week {number} of {year}, {start} to {last.day} {last:%B} {last.year}"


def local_midnight(on: date) -> int:
    """A date's midnight on the local clock's face: ns since 1970-01-01."""
    return (on.toordinal() - _EPOCH_ORDINAL) * DAY


def week_of(building: Building, timetable: Timetable, on: date, remark: str = "") -> Week:
    """The ISO week that holds `on`. `remark` is what else is to be said of it."""
    civil, signs = building.civil, Signs(building)
    monday = on - timedelta(days=on.weekday())
    dates = [monday + timedelta(days=number) for number in range(DAYS)]
    start, end = (civil.instant(datetime.combine(d, time.min)) for d in _ends(monday))
    days = [timetable.day(one) for one in dates]
    changes = [*clock_changes(civil, start, end)]
    heads = tuple(_head(building, signs, day, changes) for day in days)
    rows: dict[tuple[str, int], list[Mark]] = {}
    for sounding in timetable.soundings(start, end):
        _put(rows, civil, monday, sounding.zone, _sounds(sounding))
    for ring in _silenced(timetable, dates, start, end):
        _put(rows, civil, monday, ring.zone, _is_silent(ring, building.halves))
    lanes = tuple(
        Lane(
            zone,
            what.title,
            tuple(
                Row(
                    tuple(sorted(rows.get((zone, number), ()), key=lambda mark: mark.due)),
                    tuple(_quiet(building.halves, timetable, day, zone)),
                )
                for number, day in enumerate(days)
            ),
        )
        for zone, what in building.zones.items()
    )
    halves = ns_of_day(building.halves.day), ns_of_day(building.halves.night)
    remarks = (*lost_orders(timetable, *_ends(monday)), *filter(None, [remark]))
    return Week(building.name, civil.key, heads, lanes, *halves, remarks)


def _ends(monday: date) -> tuple[date, date]:
    return monday, monday + timedelta(days=DAYS)


def _head(building: Building, signs: Signs, day: Day, changes: Sequence[ClockChange]) -> DayHead:
    midnight = local_midnight(day.date)
    its = tuple(
        change
        for change in changes
        if min(change.before, change.after) < midnight + DAY
        and max(change.before, change.after) > midnight
    )
    departs = day.source != "usual" and day.exists
    why = why_text(day) if departs else ""
    return DayHead(
        day.date, plan_label(building, day), signs.of(day), departs, day.exists, why, its
    )


# ── marks ────────────────────────────────────────────────────────────────────────────────────────


def _put(
    rows: dict[tuple[str, int], list[Mark]],
    civil: CivilTime,
    monday: date,
    zone: str,
    mark: Mark,
) -> None:
    """Stand a mark where the local clock is when it begins."""
    local = civil.local_ns(mark.due) - local_midnight(monday)
    number = min(max(local // DAY, 0), DAYS - 1)
    rows.setdefault((zone, number), []).append(mark._replace(at=local - number * DAY))


def _sounds(sounding: Sounding) -> Mark:
    return Mark(
        0,
        sounding.start,
        moved(sounding.closings, -sounding.start),
        joined(ring.says for ring in sounding.rings),
        "",
        "" if sounding.cut is None else sounding.cut[1],
        len(sounding.missed),
    )


def _silenced(timetable: Timetable, dates: Sequence[date], start: int, end: int) -> Iterator[Ring]:
    """What is due in the week and silenced; a clock change may bring it here from a day beside."""
    beside = timedelta(days=1)
    for on in (dates[0] - beside, *dates, dates[-1] + beside):
        yield from (ring for ring in timetable.day(on).silenced if start <= ring.due < end)


def _is_silent(ring: Ring, halves: Halves) -> Mark:
    local = datetime.fromisoformat(ring.written)
    weekday, half = local.weekday(), "day"
    if local.time() < halves.day:
        weekday, half = weekday - 1, "night"
    elif local.time() >= halves.night:
        half = "night"
    quiet = f"{WEEKDAYS[weekday]} {half}"
    return Mark(0, ring.due, ring.closings, ring.says, quiet, "", 0)


def _quiet(halves: Halves, timetable: Timetable, day: Day, zone: str) -> Iterator[tuple[int, int]]:
    """A zone's quiet stretches of a date; those that meet are one."""
    starts, ends = ns_of_day(halves.day), ns_of_day(halves.night)
    parts: list[tuple[Part, int, int]] = [
        ("before day", 0, starts),
        ("day", starts, ends),
        ("night", ends, DAY),
    ]
    quiet = timetable.quiet_parts(day.date)
    since = None
    for part, start, end in parts:
        if start == end or not day.exists:
            continue
        if (zone, part) in quiet:
            since = start if since is None else since
        elif since is not None:
            yield since, start
            since = None
    if since is not None:
        yield since, DAY


# ── what a rendering asks ────────────────────────────────────────────────────────────────────────


def hours(week: Week) -> tuple[int, int]:
    """The whole hours of the day that must be shown, [first, last): all that hold a mark."""
    shown = [mark.at for mark in week.marks]
    for day in week.days:
        if day.exists:
            for twice in (False, True):
                shown += [
                    at for ends in day.stretches(twice=twice) for at in (ends[0], ends[1] - 1)
                ]
    shown = shown or [week.day_half, week.night_half - 1]
    first, last = min(shown) // HOUR, min(max(shown) // HOUR + 1, 24)
    while last - first < _LEAST_HOURS:
        first, last = max(first - 1, 0), min(last + 1, 24)
    return first, last


def close_together(marks: Iterable[Mark], apart: int) -> list[list[Mark]]:
    """Marks of a row in groups: each less than `apart` (ns) after the one before it.

    What sounds and what is silenced are never in one group.
    """
    groups: list[list[Mark]] = []
    for mark in marks:
        last = groups[-1][-1] if groups else None
        alike = last is not None and bool(last.quiet) == bool(mark.quiet)
        if last is not None and alike and mark.at - last.at < apart:
            groups[-1].append(mark)
        else:
            groups.append([mark])
    return groups


def limited(week: Week) -> Iterator[str]:
    """What a limit cuts short, a sentence for each sounding."""
    for lane in week.lanes:
        for head, row in zip(week.days, lane.rows, strict=True):
            for mark in row.marks:
                if mark.cut:
                    yield f"{lane.zone} {head.date:%a} {clock(mark.at)}: {cut_words(mark)}"


def cut_words(mark: Mark) -> str:
    """ "cut short after 10 s (longest), 1 of its rings missed"."""
    if not mark.closings:
        return f"missed ({mark.cut})"
    lost = f", {mark.missed} of its rings missed" if mark.missed else ""
    return f"cut short after {mark.length / SECOND:g} s ({mark.cut}){lost}"


def clock(at: int) -> str:
    """A time of the local day: "08:30", with seconds where there are any."""
    seconds = at // SECOND
    text = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}"
    return text if seconds % 60 == 0 else f"{text}:{seconds % 60:02d}"


def how_long(mark: Mark) -> str:
    """ "5 s", "3 strokes", or "missed" where a limit leaves nothing of it."""
    return closings_words(mark.closings) if mark.closings else "missed"
