"""What the engine knows between two steps. Every part is a value; a step makes new ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from controller.engine.contract import Play
from controller.engine.records import FaultRow, LineRow, Record, TrustRow
from controller.timetable.contact import Closing

FAR = 1 << 62  # an instant that never comes
# Identities further ahead of the trusted clock were given by one that was wrong (design rule 15).
ERA_NS = 26 * 3600 * 1_000_000_000
Identity = tuple[str, str]  # zone, and date and time as written


class Waiting(NamedTuple):
    """A ring that is due, or nearly, and has not begun."""

    zone: str
    written: str  # "" for a ring by hand
    due: int  # utc
    closings: tuple[Closing, ...]
    says: str
    by: str  # who rings by hand; "" for the timetable
    waited: bool = False  # for the supply
    refused: bool = False  # by the hand
    not_before: int = 0  # mono


class Given(NamedTuple):
    """A ring within a sounding, and when it starts there (mono)."""

    ring: Waiting
    start: int


class LeftOut(NamedTuple):
    """A ring for which its sounding ends too early; missed when it has ended."""

    ring: Waiting
    why: str


class Sounding(NamedTuple):
    """A sounding that was decided and has not ended."""

    play: Play
    due: int
    start_utc: int
    rings: tuple[Given, ...]
    left_out: tuple[LeftOut, ...]
    short: bool  # a limit ends it early
    cancelling: bool = False
    ended_by: str = ""  # a quiet order, a panel switch or a stop ended it
    joining: Given | None = None  # an amendment of which the hand has not spoken yet
    before: Sounding | None = None  # what stands if an amendment under way is too late
    unsent: int = 0  # the batch which that amendment waits for before the hand hears of it
    batch: int = 0  # which its play waits for before it goes to the hand; 0: none
    late: int = 0  # ns: its batch was stored so long after its start, and it shifts whole
    refused: int = 0  # amendments that were too late for the hand: nothing joins it any more

    @property
    def end(self) -> int:
        """mono of its last opening, as planned, or later if the store was slow."""
        return self.play.start_mono + self.play.edges[-1] + self.late

    @property
    def surely_over(self) -> int:
        """mono after which it draws nothing: while its play waits for the store, nobody knows how
        late it will begin.
        """
        return self.play.latest_mono + self.play.edges[-1] if self.batch else self.end


class ZoneState(NamedTuple):
    sounding: Sounding | None = None
    closed: tuple[Closing, ...] = ()  # closings of the last minute, mono
    quiet_until: int = 0  # utc


class LineState(NamedTuple):
    row: LineRow
    play: Play | None = None
    cancelling: bool = False
    rest_until: int = 0  # mono
    not_before: int = 0  # mono: the hand refused a play
    owed: bool = False  # the row goes with the next commit
    steps: int = 0  # impulses that somebody ordered and that are still to be given
    hold_orders: tuple[int, ...] = ()  # answered once the impulse in progress has ended
    cuts: int = 0  # how often the impulse that is owed was cut though it began
    unanswered: bool = False  # the last impulse was ordered, and its contact never closed


class State(NamedTuple):
    boot: str
    started_mono: int
    off_until: int | None  # utc of the daemon's start, as the first trusted instant had it
    trusted_from: int | None  # utc since when the clock is trusted without a break
    hand: str | None
    zones: Mapping[str, ZoneState]
    lines: Mapping[str, LineState]
    waiting: tuple[Waiting, ...]
    given: Mapping[str, frozenset[Identity]]  # by written date
    missed: Mapping[str, frozenset[Identity]]
    follow: tuple[tuple[str, str], ...]  # date, plan
    frontier: int | None  # utc: rings due before it have entered; None: never trusted yet
    fence: int | None  # utc: what was due before it is never rung
    fence_at_start: bool  # the daemon's start is still to become the fence
    settled: int | None
    next_due: int  # utc of the first ring at or after the frontier; −1: not known
    next_play: int
    next_batch: int
    next_note: int
    owed: tuple[Record, ...]  # records that go with the next batch
    storing: bool
    panel: Mapping[str, bool]  # the panel's entries: is its contact closed
    supply_lost: tuple[Closing, ...]  # mono: when the 24 V was away; until FAR while it is
    faults: Mapping[str, FaultRow]  # that last, or that nobody has acknowledged
    word: TrustRow | None  # who vouched for the clock in this run of the machine
    era: int
    untrusted_since: int | None  # mono; None while the clock is trusted
    ahead: int  # utc − mono at the last step: a step of the clock while nobody keeps it ends trust
    presses: Mapping[str, tuple[int, ...]]  # panel's entries: mono of the last minute's closings
    fault_begins: Mapping[str, tuple[int, ...]]  # faults: mono of their latest beginnings
    fault_eases: Mapping[str, int]  # faults that come and go: mono since when it is well again
    well: bool  # as last decided
    look_utc: int
    look_mono: int

    @property
    def at_rest(self) -> bool:
        """Whether no circuit is doing anything, nor about to."""
        return all(zone.sounding is None for zone in self.zones.values()) and all(
            line.play is None for line in self.lines.values()
        )
