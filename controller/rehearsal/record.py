"""The rehearsal record: what sounded, what stepped, what was missed, and how the dials end.

`at` is outside time (utc ns). `clock` is what the system's clock said then, where it differed.
"""

from __future__ import annotations

from typing import NamedTuple


class RingRecord(NamedTuple):
    """One sounding."""

    at: int  # its first closing
    zone: str
    due: int  # utc of its earliest ring
    length: int  # ns, first closing to last opening, as sounded
    says: str
    cut: bool
    hand: bool
    clock: int | None


class ImpulseRecord(NamedTuple):
    """One impulse."""

    at: int
    line: str
    polarity: str  # "+", "-"; "" on a single line
    shows: str  # after it, as the engine believes
    again: bool
    cut: bool
    clock: int | None


class MissedRecord(NamedTuple):
    """One ring that was due and not given; at the instant when that was settled."""

    at: int
    zone: str
    due: int
    why: str
    clock: int | None


class LineEnd(NamedTuple):
    """A line's three model dials at the end."""

    shows: tuple[str, ...]  # the distinct texts: one where they agree
    right: bool
    doubtful: bool


class EndRecord(NamedTuple):
    """The last record: whole, whatever the others leave out."""

    at: int
    rings: int
    impulses: int
    missed: int
    lines: dict[str, LineEnd]


RehearsalRecord = RingRecord | ImpulseRecord | MissedRecord | EndRecord
