"""The words between the engine and everything around it.

All instants are integer nanoseconds. `utc` counts from 1970 on the system's clock; `mono` is the
machine's monotonic clock and belongs to one `boot` (one run of the machine).

The contract:

1.  One thread owns the engine; everyone else only puts inputs into its queue.
2.  A play goes to the hand only after its batch is stored, or has failed to store and this was
    said aloud. Only `at_once` plays (rings by hand) go without waiting.
3.  Closing and opening are inside the play: nobody needs to wake for a relay to open.
4.  Due times are judged on utc; impulse, gap, longest and a minute on mono.
5.  The same Tick again at the same Now decides nothing.
6.  `recover` is lawful for every prefix of the records.
7.  At most one play a circuit. After `latest_mono` the hand refuses it (never_began). A play
    belongs to one hand and never reaches the next.
8.  After a clock step every play not begun is cancelled; the hand ignores the cancelling of one
    that it began. Only after never_began is it voided in the store and judged afresh.
9.  A sounding that grows is an amendment of its play: accepted, or too late.
10. An order is answered after its commit, except `stop`.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from controller.building.model import Building


class Now(NamedTuple):
    """One instant on both clocks.

    `trusted`: whether kernel or RTC vouch for the system's clock at this instant. Who once vouched
    for it is remembered (engine/trust.py), so that losing a time server stops nothing.
    """

    utc: int
    mono: int
    boot: str
    trusted: bool


# ── plays: what the hand is asked to do ──────────────────────────────────────────────────────────


class Play(NamedTuple):
    """One closing pattern of one relay, told ahead of time.

    `edges` are offsets (ns) from the start: close, open, close, open …; an even number, strictly
    rising, the first 0; so the last edge opens. A late play shifts whole.
    """

    id: int
    hand: str  # the hand it belongs to
    circuit: str  # "zones.north", "lines.main"
    relay: int  # 0; on an alternating line 0 gives + and 1 gives −
    start_mono: int
    latest_mono: int
    edges: tuple[int, ...]


class Amend(NamedTuple):
    """New edges for a play that has been sent: later openings and closings may change."""

    play: int
    edges: tuple[int, ...]


class Cancel(NamedTuple):
    """Do not begin this play. `stop` also opens the relay of a play that has begun."""

    play: int
    stop: bool


# ── records: what the journal keeps. The newest record of a key stands for all before it. ─────────


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


# ── inputs ───────────────────────────────────────────────────────────────────────────────────────


class Tick(NamedTuple):
    """Look again."""


class Stored(NamedTuple):
    """The journal's word on a batch."""

    batch: int
    ok: bool


class Outcome(NamedTuple):
    """The hand's word on a play: mono of its first closing and of its last opening.

    A play that is cut and ends as it starts was ordered, and its contact never closed (by its
    sense input).
    """

    play: int
    how: Literal["done", "cut", "never_began"]
    start: int
    end: int


class Amended(NamedTuple):
    """The hand's word on an amendment."""

    play: int
    accepted: bool


class HandReady(NamedTuple):
    """A new hand holds the pins; all relays are open. And what its inputs read."""

    hand: str
    panel: tuple[tuple[str, bool], ...] = ()  # each of the panel's entries: is its contact closed
    supply: bool = True  # whether the 24 V is there; True where nobody can tell


class HandLost(NamedTuple):
    """The hand is gone, and with it whatever it was doing."""

    hand: str


class PanelMoved(NamedTuple):
    """A contact of the panel was closed or opened."""

    name: str
    closed: bool


class SupplyMoved(NamedTuple):
    """The 24 V went or came back, at `mono`."""

    there: bool
    mono: int


ContactKind = Literal["stuck", "welded", "slow", "bouncing"]


class ContactFault(NamedTuple):
    """By its sense input a relay's contact does not do as it is told; or does again."""

    circuit: str
    relay: int
    kind: ContactKind
    lasts: bool  # False: it has ended


class FaultFound(NamedTuple):
    """Something around the engine is not as it should be; `says` is "" where it is again."""

    name: str
    says: str


class NewBuilding(NamedTuple):
    """The file was reloaded."""

    building: Building


class RingByHand(NamedTuple):
    zones: tuple[str, ...]
    length: int  # ns


class StopAll(NamedTuple):
    pass


class QuietZones(NamedTuple):
    zones: tuple[str, ...]
    until: int  # utc; 0 lifts


class Follow(NamedTuple):
    day: date
    plan: str


class HoldLine(NamedTuple):
    line: str


class GoLine(NamedTuple):
    line: str


class SetLine(NamedTuple):
    line: str
    shown: int
    polarity: Literal["+", "-"] | None  # None: not known, taken as −, and doubtful


class StepLine(NamedTuple):
    line: str
    impulses: int


class DriveLine(NamedTuple):
    """Drive a line's dials to a position and hold them there."""

    line: str
    shown: int


class LineRight(NamedTuple):
    """A person has looked: the dials show what is believed."""

    line: str


class LineStood(NamedTuple):
    """A person has watched: the dials did not move at the first impulse after a `set`."""

    line: str


class LineSwapped(NamedTuple):
    """The two wires of a line were exchanged."""

    line: str


class LineMoved(NamedTuple):
    """The dials of a line were moved behind our back: nobody knows what they show."""

    line: str


class TrustClock(NamedTuple):
    """A person has looked: the system's clock is right."""


class Acknowledge(NamedTuple):
    """A person has seen these faults, or all ("": those that ended are listed no more)."""

    name: str


class Noted(NamedTuple):
    """Somebody had something done beside the engine, which the logbook is to tell."""

    text: str


class Finish(NamedTuple):
    """The daemon is about to end in order: store what is owed."""


Wish = (
    RingByHand
    | StopAll
    | QuietZones
    | Follow
    | HoldLine
    | GoLine
    | SetLine
    | StepLine
    | DriveLine
    | LineRight
    | LineStood
    | LineSwapped
    | LineMoved
    | TrustClock
    | Acknowledge
    | Noted
    | Finish
)


class Order(NamedTuple):
    """Somebody wants something."""

    id: int
    who: str
    what: Wish


Input = (
    Tick
    | Stored
    | Outcome
    | Amended
    | HandReady
    | HandLost
    | PanelMoved
    | SupplyMoved
    | ContactFault
    | FaultFound
    | NewBuilding
    | Order
)


class Answer(NamedTuple):
    """What an order came to, in words."""

    order: int
    ok: bool
    text: str


class Decision(NamedTuple):
    """All that one step of the engine wants done."""

    batch: int  # 0 where there is nothing to store
    records: tuple[Record, ...] = ()
    plays: tuple[Play, ...] = ()  # go to the hand once the batch is stored
    at_once: tuple[Play, ...] = ()  # go to the hand without waiting
    amends: tuple[Amend, ...] = ()  # at once: the engine holds one back until its batch is stored
    cancels: tuple[Cancel, ...] = ()  # at once
    answers: tuple[Answer, ...] = ()  # once the batch is stored
    answers_at_once: tuple[Answer, ...] = ()
    look_again_utc: int | None = None
    look_again_mono: int | None = None
    well: bool = False  # hand, store, clock and supply are well, and no fault lasts
