"""How rings of a zone become one sounding: who belongs to it, where a limit ends it, its edges."""

from __future__ import annotations

from collections.abc import Iterable

from controller.building.closings import union
from controller.engine.records import SoundingRow
from controller.engine.state import Given, LeftOut, Sounding, Waiting
from controller.engine.turn import Turn
from controller.timetable.contact import Closing, cut_at, first_excess, moved
from controller.timetable.rings import joined


def chain(turn: Turn, first: Waiting, start: int) -> list[Given]:
    """A ring and those of its zone whose spans, as given, overlap or touch from there on."""
    rings = [Given(first, start)]
    end = end_of(rings[0])
    quiet_until = turn.zones[first.zone].quiet_until
    waiting = [w for w in turn.waiting if w.zone == first.zone and w != first]
    for ring in sorted(waiting, key=lambda w: w.due):
        given = Given(ring, max(start, turn.mono_of(ring.due)))
        if given.start > end:
            return rings
        if ring.by or quiet_until <= ring.due:
            rings.append(given)
            end = max(end, end_of(given))
    assert turn.frontier is not None
    entered = {first.written, *(ring.written for ring in waiting)}  # back from one that never began
    for due in turn.timetable.upcoming_of(first.zone, turn.frontier):
        given = Given(
            Waiting(due.zone, due.written, due.due, due.closings, due.says, ""),
            max(start, turn.mono_of(due.due)),
        )
        if given.start > end:
            break
        taken = due.written in entered or turn.is_given(due.zone, due.written)
        if quiet_until <= due.due and not taken:
            rings.append(given)
            end = max(end, end_of(given))
    return rings


def end_of(given: Given) -> int:
    """Its last opening (mono)."""
    return given.start + given.ring.closings[-1][1]


def limited(
    turn: Turn, zone: str, rings: Iterable[Given], closed: tuple[Closing, ...]
) -> tuple[tuple[Closing, ...], tuple[Given, ...], tuple[LeftOut, ...]]:
    """The closings of these rings as one, up to where a limit ends them; who is in, who is not."""
    rings = list(rings)
    closings = union(c for one in rings for c in moved(one.ring.closings, one.start))
    known = turn.building.zones.get(zone)
    excess = known and first_excess(closings, closed, known.longest_ns, known.a_minute_ns)
    if not excess:
        return closings, tuple(rings), ()
    cut, why = excess
    given = tuple(one for one in rings if one.start < cut)
    left_out = tuple(LeftOut(one.ring, why) for one in rings if one.start >= cut)
    return cut_at(closings, cut), given, left_out


def edges_of(closings: Iterable[Closing], start: int) -> tuple[int, ...]:
    """Closings as the edges of a play from `start`."""
    return tuple(instant - start for closing in closings for instant in closing)


def closings_of(edges: tuple[int, ...], start: int) -> tuple[Closing, ...]:
    """The edges of a play from `start` as closings."""
    return tuple((start + a, start + b) for a, b in zip(edges[::2], edges[1::2], strict=True))


def row_of(turn: Turn, zone: str, sounding: Sounding) -> SoundingRow:
    """What the journal keeps of a sounding that is about to begin."""
    rings = [one.ring for one in sorted(sounding.rings, key=lambda one: one.ring.due)]
    return SoundingRow(
        sounding.play.id,
        zone,
        sounding.due,
        sounding.start_utc,
        sounding.play.start_mono,
        turn.now.boot,
        sounding.play.edges,
        tuple(ring.written for ring in rings if not ring.by),
        joined(ring.says for ring in rings),
        joined(ring.by for ring in rings),
        "begun",
        turn.era,
    )
