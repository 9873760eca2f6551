"""When a ring closes its zone's contact: (from, until) in ns from its start, until not included."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import accumulate

from controller.building.durations import MINUTE

Closings = tuple[tuple[int, int], ...]


def closings_of(strokes_ns: Sequence[int]) -> Closings:
    """Closings of on, off, on … lengths; the last one is an on."""
    instants = (0, *accumulate(strokes_ns))
    return tuple(zip(instants[:-1:2], instants[1::2], strict=True))


def union(closings: Iterable[tuple[int, int]]) -> Closings:
    """The contact closed whenever any of them would close it; touching closings become one."""
    merged: list[tuple[int, int]] = []
    for start, end in sorted(closings):
        assert start < end, "a closing has a length"
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return tuple(merged)


def longest_of(closings: Closings) -> int:
    """The longest one closing, ns."""
    return max(end - start for start, end in closings)


def most_in_a_minute(closings: Closings) -> int:
    """The most that the contact is closed in any 60 s, ns. The closings are apart from each other.

    The fullest minute can be moved until it begins with a closing or ends with one.
    """
    begins = [start for start, _ in closings] + [end - MINUTE for _, end in closings]
    return max(
        sum(max(0, min(end, begin + MINUTE) - max(start, begin)) for start, end in closings)
        for begin in begins
    )
