"""A small world for the engine's tests: a store that takes its time, a hand, dials, and faults.

It keeps the daemon's order of things: a play goes to the hand once its batch is stored, those at
once go at once, and one that still waits for the store can be taken back or changed there. At every
turn it checks the contract: at most one play a circuit, none for another hand than its own, every
order answered once.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Sequence
from pathlib import Path

from small_hand import MINUTE, SECOND, SmallHand

from controller.building.file import read
from controller.building.model import Building
from controller.circuits.rules import Switch
from controller.dials.position import true_position
from controller.engine.contract import (
    Amend,
    Amended,
    Answer,
    Decision,
    HandLost,
    Input,
    NewBuilding,
    Now,
    Order,
    Outcome,
    Stored,
    Tick,
)
from controller.engine.records import LineRow, NoteRow, Record, SoundingRow
from controller.engine.recover import recover
from controller.engine.state import State
from controller.engine.step import step
from controller.engine.wishes import Wish

MILLISECOND = 1_000_000
_MOST_AT_ONCE = 2_000


class Stopped(Exception):
    """So many batches are stored; what the last of them let go is not yet done."""

    def __init__(self, decision: Decision) -> None:
        super().__init__()
        self.decision = decision


def building_of(folder: Path, text: str) -> Building:
    path = folder / "building.toml"
    path.write_text(text, encoding="utf-8")
    return read(path)


class SmallWorld(SmallHand):
    def __init__(self, building: Building, start_utc: int, *, empty_store: bool = False) -> None:
        super().__init__(building, start_utc)
        self.shift = 0
        self.trusted = True
        self.boots = 0
        self.commit_ns = 0
        self.store: dict[tuple[str, ...], Record] = {}
        self.batches: list[tuple[Record, ...]] = []
        self.stop_after: int | None = None  # `Stopped` once so many batches are stored
        self.storing = True
        self.unsaved: list[Record] = []  # what the store could not take, and takes when it can
        self.committing: deque[tuple[int, Decision]] = deque()  # (outside when stored, decision)
        self.look: int | None = None
        self.released: set[tuple[str, str]] = set()  # identities whose batch has been stored
        self.answers: list[Answer] = []
        self.lost_orders: set[int] = set()  # the daemon ended before it answered them
        self.decisions: list[Decision] = []
        self.outcomes: list[Outcome] = []
        self.orders = 0
        self.extra_ticks = False
        if not empty_store:
            for name, line in building.lines.items():
                shown = self.dials[name][0].shows
                row = LineRow(name, True, shown, line.positions, "-", False, False, None, 0)
                self.store[row.key] = row
        self.boot()

    # ── beginning and ending ─────────────────────────────────────────────────────────────────

    def boot(self) -> None:
        """A new run of the machine: another boot, monotonic time anew, the clock right again."""
        self.boots += 1
        self.shift = 0
        self.mono_zero = self.t - 1_000 * SECOND * self.boots
        self.start_daemon()

    def start_daemon(self) -> None:
        # What was decided and never stored is not known to the next daemon, its numbers neither.
        stored = {row.play for row in self.soundings()}
        self.began = {play: at for play, at in self.began.items() if play in stored}
        self.closed_well &= stored
        self.plays.clear()
        self.state: State = recover(self.building, list(self.store.values()), self.now)
        self.put(Tick())
        self.new_hand()

    def crash(self) -> None:
        """The daemon ends, the hand opens everything; what was not stored is lost. And a start.

        What a failing store could not take, the mirror in the runtime folder has.
        """
        self._save(self.unsaved)
        self._end()
        self.start_daemon()

    def power_cut(self, off_ns: int) -> None:
        """All power goes, and comes back."""
        self.unsaved.clear()
        self._end()
        self.t += off_ns
        self.boot()

    def _end(self) -> None:
        self._lose_rules()
        answered = {answer.order for answer in self.answers}
        self.lost_orders |= set(range(1, self.orders + 1)) - answered
        self.committing.clear()
        self.inputs.clear()
        self.out.clear()
        self.look = None

    def lose_hand(self) -> None:
        if self.rules is not None:
            hand = self.rules.hand
            self._lose_rules()
            for at, decision in list(self.committing):  # as the daemon does
                kept = decision._replace(plays=())
                self.committing[self.committing.index((at, decision))] = (at, kept)
            self.out.clear()
            self.put(HandLost(hand))

    def rewire(self, building: Building) -> None:
        """Take up a file with another wiring, as the daemon does: all at rest, with a new hand."""
        self.lose_hand()
        self.panel = {name: self.panel.get(name, False) for name in building.panel}
        self.put(NewBuilding(building))
        self.new_hand()

    # ── time ─────────────────────────────────────────────────────────────────────────────────

    @property
    def now(self) -> Now:
        return Now(self.t + self.shift, self.mono, f"boot-{self.boots}", self.trusted)

    def run(self, length_ns: int) -> None:
        end = self.t + length_ns
        while (instant := self._next_instant()) is not None and instant <= end:
            if self.extra_ticks and instant > self.t + 1:
                self.t += (instant - self.t) // 2
                self.put(Tick())
                continue
            self.t = max(self.t, instant)
            if self.committing and self.committing[0][0] <= self.t:
                self._committed(self.committing.popleft()[1])
            elif self._hand_advances() or self._hears():
                pass
            elif self.look is not None and self.look <= self.t:
                self.inputs.append(Tick())
            self.settle()
        self.t = end
        self.put(Tick())

    def run_until(self, whether: Callable[[], bool], limit_ns: int = 30 * MINUTE) -> None:
        end = self.t + limit_ns
        while not whether():
            assert self.t < end, "it never came to it"
            self.run(100 * MILLISECOND)

    def trust(self, trusted: bool) -> None:
        """Somebody vouches for the clock; or nobody does, nor did in this run of the machine."""
        self.trusted = trusted
        if not trusted:
            self.state = self.state._replace(word=None)
            self.store.pop(("trust",), None)
        self.put(Tick())

    def _next_instant(self) -> int | None:
        instants = [] if self.look is None else [self.look]
        if self.committing:
            instants.append(self.committing[0][0])
        if self.unheard:
            instants.append(self.deaf_until)
        if self.rules is not None and (mono := self.rules.next_instant()) is not None:
            instants.append(max(mono + self.mono_zero, self.stalled_until))
        return None if not instants else max(self.t, min(instants))

    # ── engine and hand ──────────────────────────────────────────────────────────────────────

    def put(self, given: Input) -> None:
        self.inputs.append(given)
        self.settle()

    def order(self, what: Wish, who: str = "keeper") -> int:
        self.orders += 1
        number = self.orders
        self.put(Order(number, who, what))
        return number

    def said(self, what: Wish) -> Answer:
        """Order it; what is answered at once, or as soon as it is stored."""
        answer = self.answer(self.order(what))
        assert answer is not None
        return answer

    def answer(self, order: int) -> Answer | None:
        return next((answer for answer in self.answers if answer.order == order), None)

    def settle(self) -> None:
        for _ in range(_MOST_AT_ONCE):
            if self.inputs:
                self._step(self.inputs.popleft())
            elif self.committing and self.committing[0][0] <= self.t:
                self._committed(self.committing.popleft()[1])
            elif not self._hand_advances():
                return
        raise AssertionError("engine and hand go in circles at one instant")

    def _step(self, given: Input) -> None:
        if isinstance(given, Outcome):
            self.outcomes.append(given)
            self._forget_play(given.play)
        now = self.now
        self.state, decision = step(self.building, self.state, now, given)
        if isinstance(given, NewBuilding):
            self.building = given.building
        self.decisions.append(decision)
        for play in (*decision.plays, *decision.at_once):
            assert play.circuit not in self.out, "at most one play a circuit"
            assert play.id not in self.plays, "a play's number is used once"
            self.out[play.circuit] = play.id
            self.plays[play.id] = play
        if any(play.circuit.startswith("zones.") for play in decision.plays):
            assert self.trusted or self.state.word, "the timetable rings by a trusted clock only"
        for cancel in decision.cancels:
            self._cancel(cancel)
        self._send(decision.at_once)
        for amend in decision.amends:
            self._amend(amend)
        self._answer(decision.answers_at_once)
        if decision.batch:
            last = self.committing[-1][0] if self.committing else 0
            self.committing.append((max(last, self.t + self.commit_ns), decision))
        else:
            assert not decision.records
            assert not decision.plays
            self._answer(decision.answers)
        looks = []
        if decision.look_again_utc is not None:
            looks.append(decision.look_again_utc - self.shift)
        if decision.look_again_mono is not None:
            looks.append(decision.look_again_mono + self.mono_zero)
        self.look = min(looks, default=None)

    def _answer(self, answers: tuple[Answer, ...]) -> None:
        self.answers += answers
        times = Counter(answer.order for answer in self.answers)
        assert all(times[answer.order] == 1 for answer in answers), "an order is answered once"

    def _save(self, records: Sequence[Record]) -> None:
        for record in records:
            self.store[record.key] = record

    def _committed(self, decision: Decision) -> None:
        self.unsaved += decision.records
        if self.storing:
            self._save(self.unsaved)
            self.unsaved.clear()
        self.batches.append(decision.records)
        if len(self.batches) == self.stop_after:
            raise Stopped(decision)
        self.release(decision)

    def release(self, decision: Decision) -> None:
        """What waited for the store goes on."""
        rows = [record for record in decision.records if isinstance(record, SoundingRow)]
        self.released |= {(row.zone, ring) for row in rows for ring in row.rings}
        self._send(decision.plays)
        self._answer(decision.answers)
        self.inputs.append(Stored(decision.batch, self.storing))

    def _send(self, plays) -> None:
        for play in plays:
            if play.hand == self.state.hand:
                self._take(play)

    def _amend(self, amend: Amend) -> None:
        for place, (at, decision) in enumerate(self.committing):
            changed = tuple(
                play._replace(edges=amend.edges) if play.id == amend.play else play
                for play in decision.plays
            )
            if changed != decision.plays:
                self.committing[place] = (at, decision._replace(plays=changed))
                self.inputs.append(Amended(amend.play, True))
                return
        self._hear(amend)

    def _cancel(self, cancel) -> None:
        for place, (at, decision) in enumerate(self.committing):
            kept = tuple(play for play in decision.plays if play.id != cancel.play)
            if len(kept) < len(decision.plays):
                self.committing[place] = (at, decision._replace(plays=kept))
                self.inputs.append(Outcome(cancel.play, "never_began", self.mono, self.mono))
                return
        self._obey(cancel)

    # ── what came of it ──────────────────────────────────────────────────────────────────────

    def line(self, name: str = "main") -> LineRow:
        return self.state.lines[name].row

    def shows(self, name: str = "main") -> set[int]:
        return {dial.shows for dial in self.dials[name]}

    def _switched(self, switches: list[Switch]) -> None:
        for switch in switches:
            if not switch.closed:
                self._was_stored(switch.circuit)
        super()._switched(switches)

    def _was_stored(self, circuit: str) -> None:
        """What rang is in the store, or could not be: a ring of the timetable waits for that."""
        zone = self.state.zones.get(circuit.removeprefix("zones."))
        if zone is None or zone.sounding is None:
            return
        sounding = zone.sounding
        for one in sounding.rings:
            begun = one.start + sounding.late < self.mono
            if begun and not one.ring.by and not (sounding.unsent and one == sounding.joining):
                identity = (one.ring.zone, one.ring.written)
                assert identity in self.released, "stored before its relay closes"

    def who_rings(self, circuit: str) -> frozenset[str]:
        zone = self.state.zones.get(circuit.removeprefix("zones."))
        if zone is None or zone.sounding is None:
            return frozenset()
        return frozenset(one.ring.by for one in zone.sounding.rings)

    @property
    def well(self) -> bool:
        return self.decisions[-1].well

    def notes(self) -> list[str]:
        """The logbook's notes, in order."""
        rows = [row for row in self.store.values() if isinstance(row, NoteRow)]
        return [f"{row.who}: {row.text}" for row in sorted(rows, key=lambda row: row.number)]

    def faults(self) -> dict[str, bool]:
        """Faults that are listed, and whether each lasts."""
        return {name: row.until == 0 for name, row in self.state.faults.items()}

    def true(self, name: str = "main") -> int:
        return true_position(self.building.lines[name], self.building.civil, self.now.utc)

    def soundings(self) -> list[SoundingRow]:
        """As the store has them, by play."""
        rows = [row for row in self.store.values() if isinstance(row, SoundingRow)]
        return sorted(rows, key=lambda row: row.play)

    def given(self) -> list[tuple[str, str]]:
        """Identities by the plays that closed a contact; one that is here twice was given twice."""
        return [
            (row.zone, written)
            for row in self.soundings()
            if row.how != "void" and row.play in self.began
            for written in row.rings
        ]
