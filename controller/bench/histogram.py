"""How times spread over many operations, counted into bins of equal width. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import count
from typing import NamedTuple

from controller.circuits.senses import MILLISECOND

LEAST_BINS, MOST_BINS = 10, 24  # a bar is to be seen as a bar, and told apart: choices
_LEAST_WIDTH_NS = MILLISECOND // 10  # a sense's own times are good to no less: a choice


class Histogram(NamedTuple):
    """How many of the times lie in each bin: `start_ns` is where the first begins."""

    name: str  # "pull-in"
    start_ns: int
    width_ns: int
    counts: tuple[int, ...]

    @property
    def end_ns(self) -> int:
        """Where the last ends."""
        return self.start_ns + self.width_ns * len(self.counts)


class Bar(NamedTuple):
    """A bin as it is drawn: shares of the whole width, and of the tallest bar."""

    left: float
    width: float
    height: float


def histogram(name: str, times: Iterable[int | None]) -> Histogram | None:
    """Of those that were measured, ns; None where there are none, or none was above 0.

    Bins are 1, 2 or 5 times a power of ten wide and begin at whole multiples of that, so that two
    records can be laid beside each other. Where there would be few, empty ones stand on both sides.
    """
    measured = [one for one in times if one is not None]
    if not any(measured):
        return None
    least, most = min(measured), max(measured)
    width = next(one for one in _widths() if most // one - least // one < MOST_BINS)
    found = Counter(one // width for one in measured)
    first, last = least // width, most // width
    first = max(0, first - max(0, LEAST_BINS - (last - first + 1)) // 2)
    last = max(last, first + LEAST_BINS - 1)
    counts = tuple(found[number] for number in range(first, last + 1))
    return Histogram(name, first * width, width, counts)


def bars(of: Histogram) -> tuple[Bar, ...]:
    """Its bins that are not empty."""
    each, tallest = 1 / len(of.counts), max(of.counts)
    return tuple(
        Bar(place * each, each, number / tallest)
        for place, number in enumerate(of.counts)
        if number
    )


def _widths() -> Iterator[int]:
    for power in count():
        for step in (1, 2, 5):
            yield _LEAST_WIDTH_NS * step * 10**power
