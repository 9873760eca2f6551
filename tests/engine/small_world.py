"""A small world for the engine's tests: a store that takes its time, a hand, dials, and faults.

It keeps the daemon's order of things: a play goes to the hand once its batch is stored, those at
once go at once, and one that still waits for the store can be taken back there. At every turn it
checks the contract: at most one play a circuit, and none for another hand than its own.
"""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Callable
from pathlib import Path

from controller.building.file import read
from controller.building.model import Building
from controller.building.wiring import wiring_of
from controller.circuits.rules import HandRules, Switch
from controller.dials.modelled import ModelDial, after_impulse, model_dials
from controller.dials.position import true_position
from controller.engine.contract import (
    Amend,
    Answer,
    Decision,
    HandLost,
    HandReady,
    Input,
    LineRow,
    NewBuilding,
    Now,
    Order,
    Outcome,
    Play,
    Record,
    SoundingRow,
    Stored,
    Tick,
    Wish,
)
from controller.engine.recover import recover
from controller.engine.state import State
from controller.engine.step import step

SECOND = 1_000_000_000
MILLISECOND = 1_000_000
MINUTE = 60 * SECOND
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


class SmallWorld:
    def __init__(self, building: Building, start_utc: int, *, empty_store: bool = False) -> None:
        self.building = building
        self.t = start_utc  # outside
        self.shift = 0
        self.trusted = True
        self.mono_zero = 0
        self.boots = 0
        self.hands = 0
        self.commit_ns = 0
        self.stalled_until = 0  # outside: the hand does nothing on its own before
        self.store: dict[tuple[str, ...], Record] = {}
        self.batches: list[tuple[Record, ...]] = []
        self.stop_after: int | None = None  # `Stopped` once so many batches are stored
        self.committing: deque[tuple[int, Decision]] = deque()  # (outside when stored, decision)
        self.rules: HandRules | None = None
        self.inputs: deque[Input] = deque()
        self.look: int | None = None
        self.out: dict[str, int] = {}  # circuit → play of which no end is known
        self.plays: dict[int, Play] = {}
        self.began: dict[int, int] = {}  # play → outside of its first closing
        self.closings: list[tuple[str, int, int, int]] = []  # circuit, relay, outside from, until
        self.closed_at: dict[str, int] = {}
        self.answers: list[Answer] = []
        self.decisions: list[Decision] = []
        self.outcomes: list[Outcome] = []
        self.orders = itertools.count(1)
        self.dials: dict[str, tuple[ModelDial, ...]] = {}
        self.extra_ticks = False
        self.deaf_until = 0  # outside: the hand hears of no amendment before
        self.unheard: list[Amend] = []
        for name, line in building.lines.items():
            shown = true_position(line, building.civil, self.t)
            self.dials[name] = model_dials(shown, "" if line.drive == "single" else "-")
            if not empty_store:
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
        self.plays.clear()
        self.state: State = recover(self.building, list(self.store.values()), self.now)
        self.put(Tick())
        self.new_hand()

    def crash(self) -> None:
        """The daemon ends, the hand opens everything; what was not stored is lost. And a start."""
        self._lose_hand()
        self.committing.clear()
        self.inputs.clear()
        self.out.clear()
        self.look = None
        self.start_daemon()

    def power_cut(self, off_ns: int) -> None:
        self._lose_hand()
        self.committing.clear()
        self.inputs.clear()
        self.out.clear()
        self.t += off_ns
        self.boot()

    def lose_hand(self) -> None:
        if self.rules is not None:
            hand = self.rules.hand
            self._lose_hand()
            for at, decision in list(self.committing):  # as the daemon does
                kept = decision._replace(plays=(), amends=())
                self.committing[self.committing.index((at, decision))] = (at, kept)
            self.out.clear()
            self.put(HandLost(hand))

    def _lose_hand(self) -> None:
        if self.rules is not None:
            switches, _ = self.rules.open_all(self.mono)
            self._switched(switches)
            self.rules = None
        self.unheard.clear()

    def new_hand(self) -> None:
        if self.rules is None:
            self.hands += 1
            hand = f"hand-{self.hands}"
            rested = self.mono - MINUTE if self.hands == 1 else self.mono
            self.rules = HandRules(hand, wiring_of(self.building).circuits, rested)
            self.stalled_until = self.t
            self.put(HandReady(hand))

    # ── time ─────────────────────────────────────────────────────────────────────────────────

    @property
    def mono(self) -> int:
        return self.t - self.mono_zero

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
        self.trusted = trusted
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
        number = next(self.orders)
        self.put(Order(number, who, what))
        return number

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
            self._let_go(given.play)
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
        for cancel in decision.cancels:
            self._cancel(cancel)
        self._send(decision.at_once)
        for amend in decision.amends_at_once:
            self._amend(amend)
        self.answers += decision.answers_at_once
        if decision.batch:
            last = self.committing[-1][0] if self.committing else 0
            self.committing.append((max(last, self.t + self.commit_ns), decision))
        else:
            assert not decision.records
            assert not decision.plays
            self.answers += decision.answers
        looks = []
        if decision.look_again_utc is not None:
            looks.append(decision.look_again_utc - self.shift)
        if decision.look_again_mono is not None:
            looks.append(decision.look_again_mono + self.mono_zero)
        self.look = min(looks, default=None)

    def _committed(self, decision: Decision) -> None:
        for record in decision.records:
            self.store[record.key] = record
        self.batches.append(decision.records)
        if len(self.batches) == self.stop_after:
            raise Stopped(decision)
        self.release(decision)

    def release(self, decision: Decision) -> None:
        """What waited for the store goes on."""
        self._send(decision.plays)
        for amend in decision.amends:
            self._amend(amend)
        self.answers += decision.answers
        self.inputs.append(Stored(decision.batch, True))

    def _send(self, plays) -> None:
        for play in plays:
            if play.hand == self.state.hand:
                assert self.rules is not None
                assert self.rules.hand == play.hand, "no play reaches another hand"
                refused = self.rules.take(play, self.mono)
                if refused is not None:
                    self.inputs.append(refused)

    def _amend(self, amend) -> None:
        if self.rules is not None and self.t < self.deaf_until:
            self.unheard.append(amend)
        elif self.rules is not None:
            self.inputs.append(self.rules.amend(amend, self.mono))

    def _hears(self) -> bool:
        if not self.unheard or self.t < self.deaf_until:
            return False
        for amend in self.unheard:
            self._amend(amend)
        self.unheard.clear()
        return True

    def _cancel(self, cancel) -> None:
        for place, (at, decision) in enumerate(self.committing):
            kept = tuple(play for play in decision.plays if play.id != cancel.play)
            if len(kept) < len(decision.plays):
                self.committing[place] = (at, decision._replace(plays=kept))
                self.inputs.append(Outcome(cancel.play, "never_began", self.mono, self.mono))
                return
        if self.rules is not None:
            self._came_out(*self.rules.cancel(cancel, self.mono))

    def _hand_advances(self) -> bool:
        if self.rules is None or self.t < self.stalled_until:
            return False
        instant = self.rules.next_instant()
        if instant is None or instant > self.mono:
            return False
        self._came_out(*self.rules.advance(self.mono))
        return True

    def _came_out(self, switches: list[Switch], outcomes: list[Outcome]) -> None:
        self._switched(switches)
        self.inputs.extend(outcomes)

    def _let_go(self, play: int) -> None:
        self.out = {circuit: its for circuit, its in self.out.items() if its != play}

    def _switched(self, switches: list[Switch]) -> None:
        for switch in switches:
            kind, name = switch.circuit.split(".", 1)
            if switch.closed:
                self.closed_at[switch.circuit] = self.t
                play = self.out.get(switch.circuit)
                if play is not None:
                    self.began.setdefault(play, self.t)
                continue
            since = self.closed_at.pop(switch.circuit)
            self.closings.append((switch.circuit, switch.relay, since, self.t))
            if kind == "lines":
                line = self.building.lines[name]
                polarity = "" if line.drive == "single" else "+-"[switch.relay]
                lasted = self.t - since
                self.dials[name] = after_impulse(
                    self.dials[name], polarity, lasted, line.impulse_ns, line.positions
                )

    # ── what came of it ──────────────────────────────────────────────────────────────────────

    def line(self, name: str = "main") -> LineRow:
        return self.state.lines[name].row

    def shows(self, name: str = "main") -> set[int]:
        return {dial.shows for dial in self.dials[name]}

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
