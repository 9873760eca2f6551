"""From the notes of a tape to the tape, and what is doubtful about it. Pure.

The drum goes on once a minute, so holes are whole minutes apart; what was measured is rounded to
them. One clock time is known: that of the first note, or that of the mark. Whoever goes round more
than once notes most holes again, and these turns are laid over each other.

A doubt stops nothing: it names a line, says how it was taken, and leaves the rest to the person.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import time
from decimal import Decimal
from itertools import pairwise
from typing import NamedTuple

from controller.building.durations import DAY, MINUTE, SECOND, duration_text
from controller.building.kept import Tape
from controller.building.values import TapeTurn, ns_of_day, time_at
from controller.editing.tape_notes import Measure, Note, Notes

ROUNDED_NS = 20 * SECOND  # beyond this a rounding is doubtful: a choice, a third of a minute


class Scale(NamedTuple):
    """What is known beside the notes."""

    length_ns: TapeTurn
    for_ns: int
    starts: time  # clock time under the fingers at the mark; of no account where `first` is known
    first: time | None  # clock time of the first note
    turn: Decimal | None  # units of `position` in one turn of the tape


class Doubt(NamedTuple):
    """What is doubtful about a line, and how it was taken."""

    line: int
    says: str


class ReadTape(NamedTuple):
    tape: Tape
    doubts: tuple[Doubt, ...]  # in the order of their lines
    turns: int  # begun


class _Stop(NamedTuple):
    """Where the drum stood at a note."""

    way_ns: int  # along the tape, over all turns
    in_order: bool


class _Hole(NamedTuple):
    """What one line says of one zone, reckoned from the mark and over all turns."""

    line: int
    exact_ns: int
    minute: int
    turn: int


def read_tape(notes: Notes, scale: Scale) -> ReadTape:
    """The tape that was noted. `scale.turn` is there where positions were measured."""
    stops, doubts = _way(notes, scale)
    starts, origin_ns, first_minute = _reference(notes.measure, stops[0].way_ns, scale)
    turn_minutes = scale.length_ns // MINUTE
    begun = now = ends = first_minute + _minutes(stops[0].way_ns - origin_ns)
    holes: dict[str, list[_Hole]] = defaultdict(list)
    for note, stop in zip(notes.notes, stops, strict=True):
        exact_ns = first_minute * MINUTE + stop.way_ns - origin_ns
        minute = _minutes(exact_ns)
        if stop.in_order:
            now, ends = minute, max(ends, minute)
        turn = max(0, (now - begun) // turn_minutes)
        hole = _Hole(note.line, exact_ns, minute, turn)
        doubts += _of_a_note(note, hole, turn_minutes)
        for zone in note.zones:
            holes[zone].append(hole)
    offsets: dict[str, tuple[int, ...]] = {}
    for zone in holes:
        doubts += _too_near(zone, holes[zone], turn_minutes)
        laid, of_turns = _laid_over(zone, holes[zone], (begun, ends), turn_minutes)
        doubts += of_turns
        doubts += _running_together(zone, laid, scale)
        offsets[zone] = tuple(minute * MINUTE for minute in laid)
    tape = Tape.model_construct(
        length_ns=scale.length_ns, starts=starts, for_ns=scale.for_ns, holes=offsets
    )
    return ReadTape(tape, tuple(sorted(doubts)), 1 + (ends - begun) // turn_minutes)


def _reference(measure: Measure, first_ns: int, scale: Scale) -> tuple[time, int, int]:
    """When the mark is under the fingers; where minutes are counted from (ns), and the count there.

    From a first note that is known they are counted from that note, for holes are whole minutes
    from each other, and only nearly from a mark that somebody drew.
    """
    starts_ns = ns_of_day(scale.starts)
    if scale.first is None:
        return scale.starts, starts_ns if measure == "clock" else 0, 0
    known_ns = ns_of_day(scale.first)
    since_mark_ns = known_ns - starts_ns if measure == "clock" else first_ns
    minute = _minutes(since_mark_ns % scale.length_ns)
    return time_at((known_ns - minute * MINUTE) % scale.length_ns), first_ns, minute


def _minutes(exact_ns: int) -> int:
    return (exact_ns + MINUTE // 2) // MINUTE


# ── the way along the tape ───────────────────────────────────────────────────────────────────────


def _way(notes: Notes, scale: Scale) -> tuple[list[_Stop], list[Doubt]]:
    """How far along the tape each note is: where it passes the mark, or midnight, it goes on.

    A note that stands out between two that follow each other is out of order. Otherwise a fall of
    more than half a turn is the mark gone by; a lesser one is a drum that was turned back.
    """
    round_ns = DAY if notes.measure == "clock" else scale.length_ns
    measured = [_ns(note, scale) for note in notes.notes]
    stops: list[_Stop] = []
    doubts: list[Doubt] = []
    passed_ns, before, beyond = 0, measured[0], False
    for note, at, after in zip(notes.notes, measured, [*measured[1:], -1], strict=True):
        in_order = not before <= after or before <= at <= after
        words = ""
        if not in_order:
            words = "is out of order: a slip of the pen, or was the drum turned back?"
        elif before - at > round_ns // 2:
            passed_ns += round_ns
        elif at < before:
            words = "lies before the line above: was the drum turned back?"
        elif at >= round_ns and not beyond:
            words = "lies beyond the tape's length: taken as another turn"
        if words:
            doubts.append(Doubt(note.line, f"{note.written} {words}"))
        stops.append(_Stop(passed_ns + at, in_order))
        if in_order:
            before, beyond = at, at >= round_ns
    return stops, doubts


def _ns(note: Note, scale: Scale) -> int:
    if scale.turn is None:
        return int(note.measured)
    return int(note.measured * scale.length_ns / scale.turn)


# ── doubts ───────────────────────────────────────────────────────────────────────────────────────


def _of_a_note(note: Note, hole: _Hole, turn_minutes: int) -> Iterator[Doubt]:
    if note.uncertain:
        yield Doubt(note.line, "marked ? by whoever noted it; it is kept")
    off_ns = abs(hole.exact_ns - hole.minute * MINUTE)
    if off_ns > ROUNDED_NS:
        taken = _clock(hole.minute % turn_minutes)
        yield Doubt(
            note.line,
            f"{note.written} is {off_ns // SECOND} s from a whole minute; taken as {taken}",
        )


def _too_near(zone: str, holes: Sequence[_Hole], turn_minutes: int) -> Iterator[Doubt]:
    """Notes of one turn that are one hole, or nearer to each other than holes can be."""
    near = sorted(holes, key=lambda hole: (hole.turn, hole.exact_ns, hole.line))
    for one, other in pairwise(near):
        first, second = sorted((one.line, other.line))
        apart_ns = other.exact_ns - one.exact_ns
        if one.turn != other.turn:
            continue
        if one.minute == other.minute:
            at = _clock(one.minute % turn_minutes)
            yield Doubt(second, f"{zone} at {at} is noted in line {first} too: one hole")
        elif apart_ns < MINUTE - ROUNDED_NS:
            yield Doubt(
                second,
                f"{zone} is {apart_ns // SECOND} s from line {first}: holes are a minute apart at "
                "least; both are kept",
            )


def _laid_over(
    zone: str, holes: Iterable[_Hole], noted: tuple[int, int], turn_minutes: int
) -> tuple[dict[int, int], list[Doubt]]:
    """All turns laid over each other: the holes' minutes from the mark, each with the line that
    has it first; and where turns disagree. `noted` is from which minute to which notes were taken.
    """
    seen: dict[int, dict[int, int]] = defaultdict(dict)  # minute from the mark → turn → line
    for hole in holes:
        seen[hole.minute % turn_minutes].setdefault(hole.turn, hole.line)
    doubts: list[Doubt] = []
    for minute in sorted(seen):
        pair = (minute, (minute + 1) % turn_minutes)
        if (
            pair[0] not in seen
            or pair[1] not in seen
            or seen[pair[0]].keys() & seen[pair[1]].keys()
        ):
            continue
        # Noted a minute apart in different turns: the one that more turns have, else the earlier.
        kept, gone = sorted(pair, key=lambda one: (-len(seen[one]), min(seen[one].values())))
        there, here = min(seen[kept].values()), min(seen[gone].values())
        words = f"{zone} at {_clock(gone)}, and in line {there} of another turn at {_clock(kept)}"
        doubts.append(Doubt(here, f"{words}: taken as one hole at {_clock(kept)}"))
        seen[kept] |= seen.pop(gone)
    for minute, turns in seen.items():
        came_by = (noted[1] - noted[0] - (minute - noted[0]) % turn_minutes) // turn_minutes + 1
        missing = [str(turn + 1) for turn in range(came_by) if turn not in turns]
        if missing:
            named = f"{'turns' if len(missing) > 1 else 'turn'} {' and '.join(missing)}"
            words = f"{zone} at {_clock(minute)} is not noted in {named}"
            doubts.append(Doubt(min(turns.values()), f"{words}; it is kept"))
    return {minute: min(seen[minute].values()) for minute in sorted(seen)}, doubts


def _running_together(zone: str, laid: Mapping[int, int], scale: Scale) -> Iterator[Doubt]:
    """Holes so near to each other that the first still rings when the next begins."""
    turn_minutes = scale.length_ns // MINUTE
    for minute, following in zip(laid, [*list(laid)[1:], *list(laid)[:1]], strict=True):
        apart_ns = (following - minute) % turn_minutes * MINUTE
        if 0 < apart_ns <= scale.for_ns:
            yield Doubt(
                laid[following],
                f"{zone} at {_clock(following)} rings on from {_clock(minute)}, for a hole rings "
                f"{duration_text(scale.for_ns)}: one sounding",
            )


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
