"""One step under way: the state being changed and what is being decided. It lives for one call."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

from controller.engine.contract import Amend, Answer, Cancel, Decision, Now, Order, Outcome, Play
from controller.engine.records import FaultRow, LineRow, MissRow, NoteRow, Record, Stamp
from controller.engine.state import FAR, Identity, LineState, State, Waiting, ZoneState
from controller.timetable.days import Timetable

if TYPE_CHECKING:
    from controller.building.model import Building

MOST_IDENTITIES = 20_000  # kept in mind; the journal keeps them all
NOBODY = 0  # the number of an order that nobody waits for an answer to: a button's
PANEL = "panel."  # how the names of those begin who are a contact of the panel
STEPPED_NS = 50_000_000  # a play that is off by more was planned on a clock that was stepped since


@lru_cache(maxsize=4)
def timetable_of(building: Building, follow: tuple[tuple[str, str], ...]) -> Timetable:
    """The timetable with its one-off orders; made once for each building and set of orders."""
    return Timetable(building, {date.fromisoformat(day): plan for day, plan in follow})


class Turn:
    __slots__ = (  # one is made for every step: so it is made quickly
        "amends",
        "answers",
        "answers_at_once",
        "at_once",
        "before",
        "building",
        "cancels",
        "era",
        "fault_begins",
        "fault_eases",
        "faults",
        "fence",
        "fence_at_start",
        "follow",
        "frontier",
        "given",
        "hand",
        "lines",
        "look_mono",
        "look_utc",
        "missed",
        "next_due",
        "next_note",
        "next_play",
        "now",
        "off_until",
        "owed",
        "panel",
        "plays",
        "presses",
        "records",
        "rung",
        "settled",
        "store_owed",
        "storing",
        "supply_lost",
        "trusted_from",
        "untrusted_since",
        "waiting",
        "word",
        "zones",
    )

    def __init__(self, building: Building, state: State, now: Now) -> None:
        self.building = building
        self.now = now
        self.before = state
        self.zones: dict[str, ZoneState] = dict(state.zones)
        self.lines: dict[str, LineState] = dict(state.lines)
        self.waiting: list[Waiting] = list(state.waiting)
        self.given = state.given
        self.missed = state.missed
        self.follow = state.follow
        self.hand = state.hand
        self.off_until = state.off_until
        self.trusted_from = state.trusted_from
        self.frontier = state.frontier
        self.fence = state.fence
        self.fence_at_start = state.fence_at_start
        self.settled = state.settled
        self.next_due = state.next_due
        self.next_play = state.next_play
        self.next_note = state.next_note
        self.storing = state.storing
        self.panel = state.panel
        self.supply_lost = state.supply_lost
        self.faults: Mapping[str, FaultRow] = state.faults
        self.word = state.word
        self.era = state.era
        self.untrusted_since = state.untrusted_since
        self.presses = state.presses
        self.fault_begins = state.fault_begins
        self.fault_eases = state.fault_eases
        self.owed: tuple[Record, ...] = state.owed
        self.store_owed = False  # store what is owed even where nothing else is stored
        self.records: list[Record] = []
        self.plays: list[Play] = []
        self.at_once: list[Play] = []
        self.amends: list[Amend] = []
        self.cancels: list[Cancel] = []
        self.answers: list[Answer] = []
        self.answers_at_once: list[Answer] = []
        self.rung: list[Order] = []  # rings by hand, answered when it is known what comes of them
        self.look_utc = FAR
        self.look_mono = FAR

    @property
    def batch(self) -> int:
        """The number of the batch that this step stores, if it stores anything."""
        return self.before.next_batch

    # ── time ─────────────────────────────────────────────────────────────────────────────────

    def go_by(self, now: Now) -> None:
        """From here on this is how the clock stands, and whether it is trusted."""
        self.now = now
        if not now.trusted:
            self.trusted_from = None
            if self.untrusted_since is None:
                self.untrusted_since = now.mono
            return
        self.untrusted_since = None
        if self.trusted_from is None:
            self.trusted_from = now.utc
            if self.off_until is None:
                self.off_until = self.utc_of(self.before.started_mono)

    def mono_of(self, utc: int) -> int:
        """The monotonic instant of `utc`, as the clock stands now."""
        return self.now.mono + (utc - self.now.utc)

    def utc_of(self, mono: int) -> int:
        """What the system's clock says at `mono`, as it stands now."""
        return self.now.utc + (mono - self.now.mono)

    def look_again_utc(self, utc: int) -> None:
        if utc < self.look_utc:
            self.look_utc = utc

    def look_again_mono(self, mono: int) -> None:
        if mono < self.look_mono:
            self.look_mono = mono

    def stepped(self, start_utc: int, start_mono: int) -> bool:
        """Whether the clock was stepped since a play was planned for this instant."""
        return abs(self.mono_of(start_utc) - start_mono) > STEPPED_NS

    # ── what is read in ──────────────────────────────────────────────────────────────────────

    @property
    def supply_there(self) -> bool:
        """Whether the 24 V is there, as far as anybody can tell."""
        return not self.supply_lost or self.supply_lost[-1][1] != FAR

    def supply_failed(self, outcome: Outcome) -> bool:
        """Whether the 24 V was away at any time of what was given."""
        if not self.supply_lost:
            return False
        return any(a < outcome.end and b > outcome.start for a, b in self.supply_lost)

    def supply_away_throughout(self, outcome: Outcome) -> bool:
        """Whether the 24 V was away all the time of what was given."""
        return any(a <= outcome.start and b >= outcome.end for a, b in self.supply_lost)

    def switched_off(self, zone: str) -> bool:
        """Whether a switch of the panel keeps this zone quiet."""
        return any(
            closed
            and (entry := self.building.panel.get(name)) is not None
            and entry.does == "quiet"
            and zone in entry.zones
            for name, closed in self.panel.items()
        )

    def was_let_go(self, who: str) -> bool:
        """Whether who rings is a button of the panel that is not pressed any more."""
        return who.startswith(PANEL) and not self.panel.get(who[len(PANEL) :], False)

    @property
    def timetable(self) -> Timetable:
        return timetable_of(self.building, self.follow)

    # ── identities ───────────────────────────────────────────────────────────────────────────

    def is_given(self, zone: str, written: str) -> bool:
        return (zone, written) in self.given.get(written[:10], ())

    def is_missed(self, zone: str, written: str) -> bool:
        return (zone, written) in self.missed.get(written[:10], ())

    def remember_given(self, identities: Iterable[Identity]) -> None:
        self.given = with_identities(self.given, identities)

    def forget_given(self, identities: Iterable[Identity]) -> None:
        self.given = _without(self.given, identities)

    def forget_given_after(self, utc: int) -> None:
        """Let go of identities written for a local time after `utc`."""
        last = self.building.civil.aware(utc).replace(tzinfo=None).isoformat(timespec="seconds")
        for day, identities in self.given.items():
            if day >= last[:10]:
                self.forget_given(one for one in identities if one[1] > last)

    def miss(self, ring: Waiting, why: str) -> None:
        """Settle a ring that is not given. By hand it has no identity: a note says so."""
        if ring.by:
            self.note(ring.by, f"ring of {ring.zone} by hand not given: {why}")
        elif not self.is_missed(ring.zone, ring.written):
            self.store(MissRow(ring.zone, ring.written, ring.due, why))
            self.missed = with_identities(self.missed, [(ring.zone, ring.written)])

    def withdraw_miss(self, ring: Waiting) -> None:
        """The ring is given after all."""
        if not ring.by and self.is_missed(ring.zone, ring.written):
            self.store(MissRow(ring.zone, ring.written, ring.due, ""))
            self.missed = _without(self.missed, [(ring.zone, ring.written)])

    # ── what is decided ──────────────────────────────────────────────────────────────────────

    def store(self, record: Record) -> None:
        self.records.append(record)

    def note(self, who: str, text: str) -> None:
        self.store(NoteRow(self.next_note, self.now.utc, who, text))
        self.next_note += 1

    def answer(self, order: int, text: str) -> None:
        if order != NOBODY:
            self.answers.append(Answer(order, True, text))

    def answer_at_once(self, order: int, text: str) -> None:
        if order != NOBODY:
            self.answers_at_once.append(Answer(order, True, text))

    def refuse(self, order: int, text: str) -> None:
        if order == NOBODY:
            self.note("", text)
        else:
            self.answers_at_once.append(Answer(order, False, text))

    def replan(self) -> None:
        """The timetable was changed by an order: what has not begun is looked at afresh."""
        kept = (ring if ring.by else self.as_written_now(ring) for ring in self.waiting)
        self.waiting = [ring for ring in kept if ring is not None]
        self.next_due = -1
        if self.frontier is not None and self.now.trusted:
            self.frontier = min(self.frontier, self.now.utc)

    def as_written_now(self, ring: Waiting) -> Waiting | None:
        """A ring of the timetable as that has it now; None where it has it no longer."""
        for other in self.timetable.window(ring.due, ring.due + 1):
            if (other.zone, other.written) == (ring.zone, ring.written):
                return ring._replace(closings=other.closings, says=other.says)
        return None

    def new_play(self) -> int:
        self.next_play += 1
        return self.next_play - 1

    def result(self) -> tuple[State, Decision]:
        """The state after this step, and its decision."""
        batch, next_batch = 0, self.batch
        records: tuple[Record, ...] = ()
        lines = self.lines
        if self.records or self.owed or self.store_owed:
            batch, next_batch = next_batch, next_batch + 1
            written = {record.line for record in self.records if isinstance(record, LineRow)}
            late = [line.row for name, line in lines.items() if line.owed and name not in written]
            self.settled = self._settled_up_to()
            stamp = Stamp(*self.now, self.settled, self.fence, self.next_play)
            records = (stamp, *self.owed, *late, *self.records)
            self.owed = ()
            lines = {
                name: line._replace(owed=False) if line.owed else line
                for name, line in lines.items()
            }
        well = self.well()
        state = State(
            self.before.boot,
            self.before.started_mono,
            self.off_until,
            self.trusted_from,
            self.hand,
            self.zones,
            lines,
            tuple(self.waiting),
            self.given,
            self.missed,
            self.follow,
            self.frontier,
            self.fence,
            self.fence_at_start,
            self.settled,
            self.next_due,
            self.next_play,
            next_batch,
            self.next_note,
            self.owed,
            self.storing,
            self.panel,
            self.supply_lost,
            self.faults,
            self.word,
            self.era,
            self.untrusted_since,
            self.now.utc - self.now.mono,
            self.presses,
            self.fault_begins,
            self.fault_eases,
            well,
            self.look_utc,
            self.look_mono,
        )
        return state, Decision(
            batch,
            records,
            tuple(self.plays),
            tuple(self.at_once),
            tuple(self.amends),
            tuple(self.cancels),
            tuple(self.answers),
            tuple(self.answers_at_once),
            None if self.look_utc == FAR else self.look_utc,
            None if self.look_mono == FAR else self.look_mono,
            well,
        )

    def well(self) -> bool:
        """All that the health relay stands for: hand, store, clock, supply, and no fault lasts."""
        return (
            self.hand is not None
            and self.storing
            and self.now.trusted
            and self.supply_there
            and (not self.faults or all(fault.until for fault in self.faults.values()))
        )

    def _settled_up_to(self) -> int | None:
        """Every ring due before this is given, missed, or was never due.

        Only instants of a trusted clock move it on; a ring that waits again takes it back.
        """
        upto = self.frontier if self.now.trusted else self.settled
        if upto is None:
            return self.settled
        unsettled = [ring.due for ring in self.waiting if not ring.by]
        for zone in self.zones.values():
            if zone.sounding is not None:
                unsettled += [left.ring.due for left in zone.sounding.left_out]
        return min([upto, *unsettled])


def with_identities(
    kept: Mapping[str, frozenset[Identity]], identities: Iterable[Identity]
) -> Mapping[str, frozenset[Identity]]:
    """`kept` and these, by written date; beyond 20,000 the dates entered first are let go."""
    more: dict[str, list[Identity]] = {}
    for identity in identities:
        more.setdefault(identity[1][:10], []).append(identity)
    grown = dict(kept)
    for day, of_day in more.items():
        grown[day] = grown.get(day, frozenset()).union(of_day)
    while len(grown) > 2 and sum(map(len, grown.values())) > MOST_IDENTITIES:
        del grown[next(iter(grown))]
    return grown


def _without(
    kept: Mapping[str, frozenset[Identity]], identities: Iterable[Identity]
) -> Mapping[str, frozenset[Identity]]:
    left = dict(kept)
    for identity in identities:
        day = identity[1][:10]
        remaining = left.get(day, frozenset()) - {identity}
        if remaining:
            left[day] = remaining
        else:
            left.pop(day, None)
    return left
