"""Entries of a list that are added, replaced and removed in one go: the steps that this takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from controller.editing.written import plain

Keys = Mapping[str, Any]  # of an entry, as in the file: {"on": "2026-12-18", "plan": "none"}


class Added(NamedTuple):
    """One entry more: before the one that was at a place, or after all others."""

    keys: Keys
    before: int | None = None


class Replaced(NamedTuple):
    """The entry at a place has these keys and no others."""

    place: int
    keys: Keys


class Removed(NamedTuple):
    """The entry at a place is gone."""

    place: int


# Places count from 0, in the order of the file as it was before the edit.
EntryChange = Added | Replaced | Removed


class Put(NamedTuple):
    """Other keys for an entry."""

    place: int
    keys: Keys


class Drop(NamedTuple):
    """An entry goes."""

    place: int


class Insert(NamedTuple):
    """An entry comes, and is at a place then."""

    place: int
    keys: Keys


class Move(NamedTuple):
    """An entry goes to a place among the others."""

    place: int
    to: int


Step = Put | Drop | Insert | Move  # each place counts in the list as it then is


def steps_of(count: int, changes: Iterable[EntryChange]) -> list[Step]:
    """The steps that change a list of so many entries."""
    listed = list(changes)
    gone = sorted({one.place for one in listed if isinstance(one, Removed)}, reverse=True)
    steps: list[Step] = [Put(*one) for one in listed if isinstance(one, Replaced)]
    steps += map(Drop, gone)
    added = [
        (count if one.before is None else one.before, one.keys)
        for one in listed
        if isinstance(one, Added)
    ]
    added.sort(key=lambda one: one[0])
    for number, (before, keys) in enumerate(added):
        steps.append(Insert(before - sum(place < before for place in gone) + number, keys))
    return steps


def stepped(entries: Sequence[Keys], steps: Iterable[Step]) -> list[Keys]:
    """A list after these steps."""
    found = list(entries)
    for step in steps:
        match step:
            case Put(place, keys):
                found[place] = dict(keys)
            case Drop(place):
                del found[place]
            case Insert(place, keys):
                found.insert(place, dict(keys))
            case Move(place, to):
                found.insert(to, found.pop(place))
    return found


def steps_in_time(rings: Sequence[Keys], changes: Iterable[EntryChange]) -> list[Step]:
    """The steps of a plan's changes, by which each ring stands where its time belongs.

    Where the rings were not in order, one that gets another time stays in its place.
    """
    listed = list(changes)
    kept = [one for one in listed if not isinstance(one, Added)]
    steps = steps_of(len(rings), kept)
    late = {one.place for one in kept if isinstance(one, Replaced)} if _rising(rings) else set()
    gone = {one.place for one in kept if isinstance(one, Removed)}
    # Each ring, and whether it stands where its time belongs.
    found = [
        (ring, place not in late)
        for place, ring in enumerate(stepped(rings, steps_of(len(rings), _replacing(kept))))
        if place not in gone
    ]
    for ring in sorted((ring for ring, settled in found if not settled), key=_at):
        place = next(n for n, (one, settled) in enumerate(found) if one is ring and not settled)
        del found[place]
        to = _place_by_time(found, ring)
        found.insert(to, (ring, True))
        if to != place:
            steps.append(Move(place, to))
    for one in listed:
        if isinstance(one, Added):
            place = _place_by_time(found, one.keys)
            found.insert(place, (one.keys, True))
            steps.append(Insert(place, one.keys))
    return steps


def _replacing(changes: Iterable[EntryChange]) -> list[EntryChange]:
    return [one for one in changes if isinstance(one, Replaced)]


def _rising(rings: Sequence[Keys]) -> bool:
    times = list(map(_at, rings))
    return times == sorted(times)


def _place_by_time(rings: Sequence[tuple[Keys, bool]], keys: Keys) -> int:
    """The place after the last ring that is no later, of those that stand where they belong."""
    settled = [(place, ring) for place, (ring, stands) in enumerate(rings) if stands]
    earlier = [place + 1 for place, ring in settled if _at(ring) <= _at(keys)]
    return max(earlier, default=settled[0][0] if settled else 0)


def _at(ring: Keys) -> str:
    at = str(plain(ring.get("at", "")))
    return f"{at}:00" if len(at) == 5 else at
