"""A week of plans as a tape with quiet rows. Pure; the way back is in tape_unfold.py.

**What stays the same** are the rings: which zone, on which date, at which time as written, with
which closings; on every date from `since` on, be it usual, a public holiday or in the calendar,
with its quiet rows lifted or not. Texts are not part of it: a hole carries none. Plans stay what
they are, and so does whatever calendar and holidays say of them.

**Why `fold` finds a tape wherever there is one.** Let a length of the tape be chosen. A time of day
falls upon one offset of it, and an offset upon one time or more. Needed are the offsets of all
rings that sound on a usual date, and of all rings of a usual date whose quiet rows the calendar
lifts. A solution is a set of holes with a set of quiet half-days, zone by zone.

1. Every solution has the needed holes. Taking all others out of it leaves a solution: nothing that
   sounds goes, for its hole is needed; what was silent stays so. So no more than the needed holes
   are ever wanted.
2. With these holes each half-day stands alone. One in which something sounds must be open. One in
   which a plan of the calendar or of the holidays rings must stay as it is, or that plan would ring
   otherwise. Of the rest, one into which a hole falls must be quiet; where none falls, either will
   do, and it stays as it is.
3. So a hole that falls into an open half-day where its ring is not wanted, or on a date with lifted
   quiet rows where it was not, falls there in every solution: there is none.

The holes of a short tape, written out on a longer one, ring the same. So if the longest tape will
not do, none does. Three things more are fixed by the file's format: a tape has one length of ring
and one second of the minute, and it rings no single-stroke bells.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, time, timedelta
from typing import NamedTuple

from controller.building.durations import MINUTE, SECOND, duration_text
from controller.building.kept import CalendarEntry, Tape
from controller.building.model import Building
from controller.building.values import USUAL, WEEKDAYS, HalfDay, TapeTurn, ns_of_day, time_at
from controller.timetable.days import Timetable, half_day
from controller.timetable.rings import Entry, plan_entries, usual_entries

LENGTHS_NS: tuple[TapeTurn, ...] = (21_600_000_000_000, 43_200_000_000_000, 86_400_000_000_000)
_EVERY_WEEKDAY = range(1, 8)

QuietRows = Mapping[str, frozenset[HalfDay]]
_ZoneAndTime = tuple[str, int]  # ns of the day
_OfWeekday = Mapping[int, Mapping[_ZoneAndTime, Entry]]


class Folded(NamedTuple):
    """A tape and quiet rows that ring what week, tape and quiet rows rang; the week is empty then.

    Quiet rows only grow: a half-day that is quiet now has nothing that would have to sound.
    """

    tape: Tape
    quiet: QuietRows  # whole rows, of the zones whose row grows
    texts: tuple[str, ...]  # what plans say of rings that are holes now, in order of their times


class Hindrance(NamedTuple):
    """Why no tape gives one ring as it is, or what it would ring beside."""

    zone: str
    at: time
    weekdays: tuple[int, ...]  # ISO; on which
    why: str


class NoTape(Exception):
    """No tape gives the same rings: ring by ring, why."""

    def __init__(self, hindrances: Iterable[Hindrance]) -> None:
        self.hindrances = tuple(hindrances)
        super().__init__(self.hindrances)


# ── what is to be rung ───────────────────────────────────────────────────────────────────────────


class _Asked(NamedTuple):
    heard: _OfWeekday  # what sounds on a usual date
    lifted: Mapping[int, date]  # weekdays with a usual date whose quiet rows are lifted: the first
    whole: _OfWeekday  # of those weekdays: what sounds then
    held: Mapping[tuple[str, HalfDay], str]  # half-days that stay as they are: for what plan

    def needed(self) -> Iterator[tuple[int, Entry]]:
        """Every ring that a hole must give, by weekday; once or twice."""
        for of_weekday in (self.heard, self.whole):
            for weekday, entries in of_weekday.items():
                yield from ((weekday, entry) for entry in entries.values())


def _asked(building: Building, since: date) -> _Asked:
    lifted: dict[int, date] = {}
    held: dict[tuple[str, HalfDay], str] = {}
    for entry, on in dates_of_calendar(building, since):
        if entry.plan == USUAL and entry.lift_quiet:
            lifted.setdefault(on.isoweekday(), on)
        elif entry.plan != USUAL and not entry.lift_quiet:
            held |= _half_days_of(building, entry.plan, on.isoweekday(), str(on)) | held
    if building.holidays is not None and building.holidays.plan != USUAL:
        for weekday in _EVERY_WEEKDAY:  # a holiday with a date falls on each of them in time
            held |= _half_days_of(building, building.holidays.plan, weekday, "holidays") | held
    return _Asked(
        {weekday: _by_time(heard(building, weekday)) for weekday in _EVERY_WEEKDAY},
        lifted,
        {weekday: _by_time(usual_entries(building, weekday)) for weekday in lifted},
        held,
    )


def dates_of_calendar(building: Building, since: date) -> Iterator[tuple[CalendarEntry, date]]:
    """Each entry with the first date of each weekday, from `since` on, that it decides."""
    timetable = Timetable(building)
    for entry in building.calendar:
        on, found = max(entry.first, since), set[int]()
        while on <= entry.last and len(found) < len(WEEKDAYS):
            new = on.isoweekday() not in found
            if new and timetable.calendar_entry(on) is entry and building.civil.date_exists(on):
                found.add(on.isoweekday())
                yield entry, on
            on += timedelta(days=1)


def _half_days_of(
    building: Building, plan: str, weekday: int, when: str
) -> dict[tuple[str, HalfDay], str]:
    return {
        (entry.zone, half_day(weekday, entry.part)): f"plan {plan} ({when}) rings in"
        for entry in plan_entries(building, plan)
    }


def heard(building: Building, weekday: int) -> list[Entry]:
    """What of a usual date no quiet row silences."""
    return [
        entry
        for entry in usual_entries(building, weekday)
        if half_day(weekday, entry.part) not in building.quiet.get(entry.zone, ())
    ]


def _by_time(entries: Iterable[Entry]) -> dict[_ZoneAndTime, Entry]:
    return {(entry.zone, entry.at): entry for entry in entries}


# ── fold ─────────────────────────────────────────────────────────────────────────────────────────


def fold(
    building: Building,
    since: date,
    lengths_ns: Sequence[TapeTurn] = LENGTHS_NS,
    starts: time | None = None,
) -> Folded:
    """The tape and quiet rows that ring the same from `since` on; see the head of this module.

    `lengths_ns` are tried in their order. The mark comes under the fingers at `starts`: where the
    file's tape has it, or at midnight, unless said; its second is that of the rings. Raises
    `NoTape` with all that stands against the last length.
    """
    asked = _asked(building, since)
    if starts is None:
        starts = time(0) if building.tape is None else building.tape.starts
    for_ns, second = _commonest(asked)
    misfits = list(_misfits(building, asked, for_ns, second))
    clashes: list[_Against] = []
    for length_ns in lengths_ns:
        tape = Tape.model_construct(
            length_ns=length_ns,
            starts=starts.replace(second=second),
            for_ns=for_ns,
            holes=_holes(building, asked, starts, second, length_ns),
        )
        folded = replace(building, week={}, tape=tape)
        quiet = _quiet_rows(folded, asked)
        clashes = list(_clashes(folded, asked, quiet))
        if not clashes:
            break
    if misfits or clashes:
        raise NoTape(_told(building, [*misfits, *clashes]))
    grown = {zone: row for zone, row in quiet.items() if row != building.quiet.get(zone)}
    texts = sorted((entry.at, entry.says) for _, entry in asked.needed() if entry.says)
    return Folded(tape, grown, tuple(dict.fromkeys(says for _, says in texts)))


def _commonest(asked: _Asked) -> tuple[int, int]:
    """The length (ns) and the second of the minute that most of the rings have."""
    lengths, seconds = Counter[int](), Counter[int]()
    for _, entry in asked.needed():
        seconds[entry.at % MINUTE // SECOND] += 1
        if len(entry.closings) == 1:
            lengths[entry.closings[0][1]] += 1
    for_ns = max(lengths, key=lambda ns: (lengths[ns], -ns), default=SECOND)
    return for_ns, max(seconds, key=lambda second: (seconds[second], -second), default=0)


def _on_a_tape(building: Building, entry: Entry, second: int) -> bool:
    """Whether a hole falls upon the entry's time, and may ring its zone."""
    struck = building.zones[entry.zone].kind == "single-stroke"
    return not struck and entry.at % MINUTE == second * SECOND


def _holes(
    building: Building, asked: _Asked, starts: time, second: int, length_ns: int
) -> dict[str, tuple[int, ...]]:
    """The needed holes, zone by zone."""
    mark_ns = ns_of_day(starts.replace(second=second))
    offsets: dict[str, set[int]] = defaultdict(set)
    for _, entry in asked.needed():
        if _on_a_tape(building, entry, second):
            offsets[entry.zone].add((entry.at - mark_ns) % length_ns)
    return {zone: tuple(sorted(offsets[zone])) for zone in building.zones if zone in offsets}


def _open_for(asked: _Asked) -> dict[tuple[str, HalfDay], str]:
    """Half-days that must not become quiet, and for what: those in which something sounds."""
    found: dict[tuple[str, HalfDay], str] = {}
    for weekday, entries in asked.heard.items():
        for entry in entries.values():
            half = half_day(weekday, entry.part)
            found.setdefault((entry.zone, half), f"{_clock(entry.at)} rings in")
    return found | {half: words for half, words in asked.held.items() if half not in found}


def _quiet_rows(folded: Building, asked: _Asked) -> dict[str, frozenset[HalfDay]]:
    """Each zone's row: as it is, and the half-days into which a hole falls that may be quiet."""
    kept_open = _open_for(asked)
    rows = {zone: set(folded.quiet.get(zone, ())) for zone in folded.zones}
    for weekday in _EVERY_WEEKDAY:
        for entry in usual_entries(folded, weekday):
            half = half_day(weekday, entry.part)
            if (entry.zone, half) not in kept_open:
                rows[entry.zone].add(half)
    return {zone: frozenset(row) for zone, row in rows.items() if row or zone in folded.quiet}


# ── what stands against it ───────────────────────────────────────────────────────────────────────


class _Against(NamedTuple):
    weekday: int
    zone: str
    at: int
    why: str


def _misfits(building: Building, asked: _Asked, for_ns: int, second: int) -> Iterator[_Against]:
    """Rings that no hole gives as they are."""
    for weekday, entry in asked.needed():
        against = _Against(weekday, entry.zone, entry.at, "")
        closings = entry.closings
        if building.zones[entry.zone].kind == "single-stroke":
            yield against._replace(why="its bells are single-stroke, and a tape rings none")
            continue
        if len(closings) > 1:
            yield against._replace(why=f"it has {len(closings)} strokes, and a hole gives one")
        elif closings[0][1] != for_ns:
            words = f"it takes {duration_text(closings[0][1])} and most others"
            words += f" {duration_text(for_ns)}: a tape has one length for all"
            yield against._replace(why=words)
        if not _on_a_tape(building, entry, second):
            words = f"most others ring at second {second:02d}: holes are whole minutes apart"
            yield against._replace(why=words)


def _clashes(folded: Building, asked: _Asked, quiet: QuietRows) -> Iterator[_Against]:
    """What the tape would ring that did not ring."""
    kept_open = _open_for(asked)
    whence = _Whence(folded, asked)
    for weekday in _EVERY_WEEKDAY:
        for entry in usual_entries(folded, weekday):
            key = entry.zone, entry.at
            half = half_day(weekday, entry.part)
            against = _Against(weekday, *key, "")
            if key not in asked.heard[weekday] and half not in quiet.get(entry.zone, ()):
                named = "the night before" if half[0] != weekday else f"that {half[1]}"
                yield against._replace(
                    why=f"{whence.words(entry)} would ring here too, and {named} cannot be quiet: "
                    f"{kept_open[entry.zone, half]} it"
                )
            elif weekday in asked.lifted and key not in asked.whole[weekday]:
                yield against._replace(
                    why=f"{whence.words(entry)} would ring on {asked.lifted[weekday]} too, when "
                    "quiet rows are lifted"
                )


class _Whence:
    """For which ring a hole is there."""

    def __init__(self, folded: Building, asked: _Asked) -> None:
        assert folded.tape is not None, "it was folded"
        self._length_ns = folded.tape.length_ns
        self._first: dict[_ZoneAndTime, tuple[int, int]] = {}
        for weekday, entry in asked.needed():
            key = entry.zone, entry.at % self._length_ns
            self._first.setdefault(key, (weekday, entry.at))

    def words(self, entry: Entry) -> str:
        weekday, at = self._first[entry.zone, entry.at % self._length_ns]
        if at == entry.at:
            return f"the hole for {WEEKDAYS[weekday - 1].capitalize()}"
        return f"the hole for {_clock(at)}"


def _told(building: Building, against: Iterable[_Against]) -> list[Hindrance]:
    """The same of several weekdays in one, by time and the zone's place."""
    weekdays: dict[tuple[int, int, str], set[int]] = defaultdict(set)
    places = list(building.zones)
    for one in against:
        weekdays[one.at, places.index(one.zone), one.why].add(one.weekday)
    return [
        Hindrance(places[place], time_at(at), tuple(sorted(on)), why)
        for (at, place, why), on in sorted(weekdays.items())
    ]


def _clock(at_ns: int) -> str:
    at = time_at(at_ns)
    return at.isoformat("seconds" if at.second else "minutes")
