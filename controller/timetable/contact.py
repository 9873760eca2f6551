"""Closings of one bell contact, and the two limits on them.

A closing is (from, until) in nanoseconds, until not included. Lists of closings are sorted and
apart from each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from controller.building.closings import union

Closing = tuple[int, int]
MINUTE = 60_000_000_000


def moved(closings: Iterable[Closing], by: int) -> tuple[Closing, ...]:
    """The same closings, later by `by` nanoseconds."""
    return tuple([(start + by, end + by) for start, end in closings])


def cut_at(closings: Iterable[Closing], instant: int) -> tuple[Closing, ...]:
    """What of them lies before `instant`."""
    return tuple((start, min(end, instant)) for start, end in closings if start < instant)


def closed_within(closings: Iterable[Closing], start: int, end: int) -> int:
    """How long (ns) the contact is closed within [start, end)."""
    return sum(max(0, min(b, end) - max(a, start)) for a, b in closings)


def first_excess(
    closings: Sequence[Closing], before: Sequence[Closing], longest: int, a_minute: int
) -> tuple[int, str] | None:
    """Where a sounding must end: the instant, and "longest" or "a-minute"; None if nowhere.

    `before` are closings already given, all earlier than `closings`; one that goes on from them
    without a break is the same closing. One continuous closing may last `longest`; the closings in
    any 60 s may add up to `a_minute`.
    """
    if _surely_within(closings, before, longest, a_minute):
        return None
    given = [*union(before)]
    for start, end in closings:
        since = given[-1][0] if given and given[-1][1] == start else start
        limit, why = since + longest, "longest"
        full = _minute_full(given, start, min(end, limit), a_minute)
        if full is not None and full < limit:
            limit, why = full, "a-minute"
        if limit < end:
            return limit, why
        given.append((start, end))
    return None


def _surely_within(
    closings: Sequence[Closing], before: Sequence[Closing], longest: int, a_minute: int
) -> bool:
    """Whether all of it together is no more than a minute may have, each closing stands alone and
    none is too long: so it is with most rings.
    """
    total = 0
    for start, end in closings:
        if end - start > longest:
            return False
        total += end - start
    for start, end in before:
        if not closings or end >= closings[0][0]:
            return False
        total += end - start
    return total <= a_minute


def _minute_full(given: Sequence[Closing], start: int, end: int, a_minute: int) -> int | None:
    """The first instant in [start, end) at which a contact closing at `start` must open."""
    at = start
    room = a_minute - closed_within(given, start - MINUTE, start)
    if room < 0:  # the limit was lowered meanwhile
        return start
    while at < end:
        # As the window moves on, what it loses at its tail pays for what it gains at its head.
        tail = at - MINUTE
        losing, until = _tail_state(given, start, tail)
        stretch = min(end - at, until - tail)
        if not losing:
            if room < stretch:
                return at + room
            room -= stretch
        at += stretch
    return None


def _tail_state(given: Sequence[Closing], start: int, tail: int) -> tuple[bool, int]:
    """Whether the contact was closed at `tail`, and the next instant at which that changes."""
    for a, b in given:
        if tail < a:
            return False, a
        if tail < b:
            return True, b
    if tail < start:
        return False, start
    return True, tail + MINUTE
