"""Rings, and the entries of plans and tape that they come from.

An entry is a ring without a date. Entries are made once for a building; a day only adds its date.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import time
from typing import TYPE_CHECKING, Literal, NamedTuple

from controller.building.civil import DAY_SECONDS, SECOND
from controller.building.closings import union
from controller.building.values import NO_RINGS, ns_of_day, time_at
from controller.timetable.contact import Closing

if TYPE_CHECKING:
    from controller.building.kept import Halves, Tape
    from controller.building.model import Building

DAY = DAY_SECONDS * SECOND
Part = Literal["before day", "day", "night"]  # of a date: up to its day half, that, and after it


class Ring(NamedTuple):
    """One ring of one zone on one date. Zone and `written` are its identity (design rule 6)."""

    zone: str
    written: str  # local date and time as written, always with seconds: "2026-11-25T08:30:00"
    due: int  # utc, ns
    closings: tuple[Closing, ...]  # ns from `due`, sorted and apart
    says: str  # its distinct texts joined by " / ", "" where there is none

    @property
    def span(self) -> int:
        """From `due` to the last opening, ns."""
        return self.closings[-1][1]


class Entry(NamedTuple):
    """What a zone rings at one time of day, whatever the date."""

    zone: str
    at: int  # ns of the local day, as written
    written: str  # "T08:30:00"
    part: Part  # of its date: what a quiet row would have to name
    closings: tuple[Closing, ...]
    says: str


def joined(texts: Iterable[str]) -> str:
    """The distinct texts in the order they come, joined by " / "; "" where there is none."""
    return " / ".join(dict.fromkeys(text for text in texts if text))


def plan_entries(building: Building, plan: str) -> tuple[Entry, ...]:
    """The entries of a named plan, or of `none`. `KeyError` where the file has no such plan."""
    return _merged(building, _of_plan(building, plan))


def usual_entries(building: Building, weekday: int) -> tuple[Entry, ...]:
    """Week and tape together, for an ISO weekday (Monday is 1)."""
    plan = building.week.get(weekday, NO_RINGS)
    tape = [] if building.tape is None else _of_tape(building.tape)
    return _merged(building, [*_of_plan(building, plan), *tape])


_Asked = tuple[str, time, tuple[Closing, ...], str]  # zone, time, closings, text


def _of_plan(building: Building, plan: str) -> list[_Asked]:
    rings = () if plan == NO_RINGS else building.plans[plan]
    return [(zone, ring.at, ring.closings, ring.says) for ring in rings for zone in ring.zones]


def _of_tape(tape: Tape) -> Iterator[_Asked]:
    """A hole rings at (starts + offset) mod length, and every length after that through the day."""
    for zone, offsets in tape.holes.items():
        for offset in offsets:
            first = (ns_of_day(tape.starts) + offset) % tape.length_ns
            for at in range(first, DAY, tape.length_ns):
                yield zone, time_at(at), tape.closings, ""


def _merged(building: Building, asked: Iterable[_Asked]) -> tuple[Entry, ...]:
    """One entry for a zone and time (design rule 6), by time and then the zone's place."""
    place = {zone: number for number, zone in enumerate(building.zones)}
    alike: dict[tuple[time, int], list[_Asked]] = {}
    for one in asked:
        alike.setdefault((one[1], place[one[0]]), []).append(one)
    return tuple(_one(building.halves, same) for _, same in sorted(alike.items()))


def _one(halves: Halves, same: list[_Asked]) -> Entry:
    zone, at, _, _ = same[0]
    return Entry(
        zone,
        ns_of_day(at),
        "T" + at.isoformat("seconds"),
        _part(halves, at),
        union(closing for _, _, closings, _ in same for closing in closings),
        joined(says for _, _, _, says in same),
    )


def _part(halves: Halves, at: time) -> Part:
    """Each half includes its beginning; before the day half it is still last evening's night."""
    assert halves.day < halves.night, "the file refuses a night that begins before its day"
    if at < halves.day:
        return "before day"
    return "day" if at < halves.night else "night"
