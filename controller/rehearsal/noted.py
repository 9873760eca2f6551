"""Records as they come out, put into order: by instant, then missed, impulse, ring, file order."""

from __future__ import annotations

from collections.abc import Iterator
from heapq import heappop, heappush

from controller.rehearsal.record import RehearsalRecord

MISSED, IMPULSE, RING = range(3)


class Noted:
    """What was noted and may still be preceded by something that is not noted yet."""

    def __init__(self) -> None:
        self.counts = {MISSED: 0, IMPULSE: 0, RING: 0}  # of all so far
        self._number = 0
        self._waiting: list[tuple[int, int, int, int, RehearsalRecord]] = []

    def __bool__(self) -> bool:
        return bool(self._waiting)

    def add(self, kind: int, place: int, record: RehearsalRecord) -> None:
        """`place`: of its zone or line in the file."""
        self.counts[kind] += 1
        self._number += 1
        heappush(self._waiting, (record.at, kind, place, self._number, record))

    def before(self, at: int | None) -> Iterator[RehearsalRecord]:
        """Those before `at`, or all, in order; they are let go."""
        while self._waiting and (at is None or self._waiting[0][0] < at):
            yield heappop(self._waiting)[4]
