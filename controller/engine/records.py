"""What the journal keeps. The newest record of a key stands for all before it.

All instants are integer nanoseconds; `utc`, `mono` and `boot` as in engine/contract.py.
"""

from __future__ import annotations

from typing import Literal, NamedTuple


class Stamp(NamedTuple):
    """First record of every batch: when it was decided, and up to where rings are settled."""

    utc: int
    mono: int
    boot: str
    trusted: bool
    settled: int | None  # utc: every ring due before it is given, missed, or was never due
    fence: int | None  # utc: whatever was due before it is never rung
    next_play: int  # the first play number not yet used

    @property
    def key(self) -> tuple[str, ...]:
        return ("stamp",)


class SoundingRow(NamedTuple):
    """One sounding: stored before its relay first closes and again when it ended."""

    play: int
    zone: str
    due: int  # utc of the earliest ring
    start_utc: int
    start_mono: int
    boot: str
    edges: tuple[int, ...]  # offsets from start_mono, as planned; once ended, as given
    rings: tuple[str, ...]  # "2026-11-25T08:30:00": with the zone, the identities it gives
    says: str
    by: str  # "" for the timetable, else the name of who rang by hand
    how: Literal["begun", "done", "cut", "void"]
    era: int = 0  # the era in which it was decided

    @property
    def key(self) -> tuple[str, ...]:
        return ("sounding", str(self.play))


class MissRow(NamedTuple):
    """A ring that was due and not given. Withdrawn (why = "") where it is given after all."""

    zone: str
    written: str
    due: int
    why: str

    @property
    def key(self) -> tuple[str, ...]:
        return ("miss", self.zone, self.written)


class MissCount(NamedTuple):
    """Rings missed while the daemon was off, beyond those listed singly."""

    rings: int
    first_due: int
    last_due: int
    why: str

    @property
    def key(self) -> tuple[str, ...]:
        return ("misscount", str(self.first_due))


class StepRow(NamedTuple):
    """An impulse that was stored and of which no end is known."""

    play: int
    polarity: Literal["+", "-", ""]  # "" on a single line
    start_utc: int
    start_mono: int
    boot: str
    counts: bool  # False for an impulse that corrects dials (`step`): shown stays as believed
    again: bool  # it is being given again


class LineRow(NamedTuple):
    """All that must outlast a crash of one line of dials."""

    line: str
    read: bool  # False: unread, nobody has said what the dials show
    shown: int  # position, 0 up to positions
    positions: int  # face ÷ every; where the file now says otherwise, the line is unread
    polarity: Literal["+", "-"]  # last given on an alternating line
    doubtful: bool
    held: bool
    step: StepRow | None
    last_utc: int  # when the last impulse was stored; 0: never
    polarity_known: bool = True  # False: nobody has said it, and none was given here since
    target: int = -1  # the position to which somebody has it driven, to be held there; −1: none

    @property
    def key(self) -> tuple[str, ...]:
        return ("line", self.line)


class QuietRow(NamedTuple):
    """The order `quiet` of one zone; until = 0 when lifted."""

    zone: str
    until: int
    who: str

    @property
    def key(self) -> tuple[str, ...]:
        return ("quiet", self.zone)


class FollowRow(NamedTuple):
    """A date follows another plan ("usual": the one-off order is taken back)."""

    day: str
    plan: str
    who: str

    @property
    def key(self) -> tuple[str, ...]:
        return ("follow", self.day)


class NoteRow(NamedTuple):
    """A line of the logbook that is nothing else: an order, a repeat, a fault."""

    number: int
    utc: int
    who: str
    text: str

    @property
    def key(self) -> tuple[str, ...]:
        return ("note", str(self.number))


class FaultRow(NamedTuple):
    """Something is not as it should be, or was, and nobody has acknowledged it yet."""

    name: (
        str  # "store", "clock", "supply", "hand", "file", "lines.main+ welded", "panel.stop_button"
    )
    says: str  # in words
    since: int  # utc
    until: int  # utc; 0 while it lasts
    acknowledged: bool  # after it had ended

    @property
    def key(self) -> tuple[str, ...]:
        return ("fault", self.name)


class EraRow(NamedTuple):
    """The clock had been far ahead and was set right: what it gave by then means nothing now."""

    number: int
    began: int  # utc, as set right

    @property
    def key(self) -> tuple[str, ...]:
        return ("era", str(self.number))


class TrustRow(NamedTuple):
    """The clock was vouched for: good for one run of the machine."""

    boot: str  # "" where it is void
    utc: int
    who: str  # whose word it is; "" where kernel or RTC vouched for it

    @property
    def key(self) -> tuple[str, ...]:
        return ("trust",)


Record = (
    Stamp
    | SoundingRow
    | MissRow
    | MissCount
    | LineRow
    | QuietRow
    | FollowRow
    | NoteRow
    | FaultRow
    | EraRow
    | TrustRow
)
