"""The hand of a small world, with the real hand's rules: it takes plays, hears of amendments, reads
the panel, the supply and its contacts, and puts what it has to say among the inputs.

Where a switch of the panel is closed the real hand lets nothing begin; this one leaves that to the
engine, and asserts it.
"""

from __future__ import annotations

from collections import deque

from small_premises import SmallPremises

from controller.building.model import Building
from controller.building.wiring import wiring_of
from controller.circuits.rules import HandRules, Switch
from controller.dials.modelled import ModelDial
from controller.engine.contract import (
    Amend,
    Cancel,
    ContactFault,
    HandReady,
    Input,
    Outcome,
    PanelMoved,
    Play,
    SupplyMoved,
)

SECOND = 1_000_000_000
MINUTE = 60 * SECOND


class SmallHand:
    def __init__(self, building: Building, start_utc: int) -> None:
        self.building = building
        self.t = start_utc  # outside
        self.mono_zero = 0
        self.inputs: deque[Input] = deque()
        self.hands = 0
        self.rules: HandRules | None = None
        self.stalled_until = 0  # outside: it does nothing on its own before
        self.deaf_until = 0  # outside: it hears of no amendment before
        self.unheard: list[Amend] = []
        self.premises = SmallPremises(building, start_utc)
        self.out: dict[str, int] = {}  # circuit → play of which no end is known
        self.plays: dict[int, Play] = {}
        self.began: dict[int, int] = {}  # play → outside of its first closing
        self.closed_well: set[int] = set()  # plays whose contact did close
        self.closed_at: dict[str, int] = {}
        self.closings: list[tuple[str, int, int, int]] = []  # circuit, relay, outside from, until
        self.rung_by: list[frozenset[str]] = []  # who rang, for each closing
        self.hindered: list[tuple[int, int]] = []  # when it was stalled, or deaf
        self.panel = dict.fromkeys(building.panel, False)  # which contacts are closed
        self.moves: list[tuple[int, str, bool]] = []  # of the panel: outside, name, closed
        self.told_stuck: set[tuple[str, int]] = set()

    @property
    def mono(self) -> int:
        return self.t - self.mono_zero

    @property
    def dials(self) -> dict[str, tuple[ModelDial, ...]]:
        return self.premises.dials

    def put(self, given: Input) -> None:
        """Give the engine an input, and let all be done that follows at once."""
        raise NotImplementedError

    def settle(self) -> None:
        """Let all be done that follows at once."""
        raise NotImplementedError

    def who_rings(self, circuit: str) -> frozenset[str]:
        """By whom a zone's sounding is rung; "" for the timetable."""
        raise NotImplementedError

    # ── beginning and ending ─────────────────────────────────────────────────────────────────

    def new_hand(self) -> None:
        if self.rules is None:
            self.hands += 1
            hand = f"hand-{self.hands}"
            rested = self.mono - MINUTE if self.hands == 1 else self.mono
            self.rules = HandRules(hand, wiring_of(self.building).circuits, rested)
            self.stalled_until = self.t
            self.told_stuck.clear()
            self.put(HandReady(hand, tuple(self.panel.items()), self.premises.supply_there))

    def _lose_rules(self) -> None:
        if self.rules is not None:
            switches, _ = self.rules.open_all(self.mono)
            self._switched(switches)
            self.rules = None
        self.unheard.clear()

    # ── what befalls its inputs and its relays ───────────────────────────────────────────────

    def press(self, name: str) -> None:
        """Close a contact of the panel: `stop` and `quiet` are obeyed by the hand at once."""
        if self.panel[name]:
            return
        self._moved(name, True)
        entry = self.building.panel[name]
        if self.rules is not None and entry.does in ("stop", "quiet"):
            zones = entry.zones if entry.does == "quiet" else self.building.zones
            for circuit in [f"zones.{zone}" for zone in zones]:
                if circuit in self.closed_at:
                    self._obey(Cancel(self.out[circuit], stop=True))
        self.settle()

    def let_go(self, name: str) -> None:
        """Open a contact of the panel."""
        if self.panel[name]:
            self._moved(name, False)
            self.settle()

    def _moved(self, name: str, closed: bool) -> None:
        self.panel[name] = closed
        self.moves.append((self.t, name, closed))
        if self.rules is not None:
            self.inputs.append(PanelMoved(name, closed))

    def supply(self, there: bool) -> None:
        """The 24 V goes or comes back; it is sensed."""
        if there != self.premises.supply_there:
            self.premises.supply(there, self.t)
            if self.rules is not None:
                self.put(SupplyMoved(there, self.mono))

    def stall(self, length_ns: int) -> None:
        """For so long it does nothing on its own."""
        self.stalled_until = self.t + length_ns
        self.hindered.append((self.t, self.stalled_until))

    def deafen(self, length_ns: int) -> None:
        """For so long it hears of no amendment."""
        self.deaf_until = self.t + length_ns
        self.hindered.append((self.t, self.deaf_until))

    def stick(self, circuit: str, relay: int = 0) -> None:
        """From now on the contact does not close, and its sense input says so."""
        self.premises.stuck.add((circuit, relay))

    def mend(self, circuit: str, relay: int = 0) -> None:
        self.premises.stuck.discard((circuit, relay))

    # ── plays ────────────────────────────────────────────────────────────────────────────────

    def _take(self, play: Play) -> None:
        assert self.rules is not None
        assert self.rules.hand == play.hand, "no play reaches another hand"
        refused = self.rules.take(play, self.mono)
        if refused is not None:
            self.inputs.append(refused)

    def _obey(self, cancel: Cancel) -> None:
        if self.rules is not None:
            self._came_out(*self.rules.cancel(cancel, self.mono))

    def _hear(self, amend: Amend) -> None:
        if self.rules is not None and self.t < self.deaf_until:
            self.unheard.append(amend)
        elif self.rules is not None:
            self.inputs.append(self.rules.amend(amend, self.mono))

    def _hears(self) -> bool:
        if not self.unheard or self.t < self.deaf_until:
            return False
        for amend in self.unheard:
            self._hear(amend)
        self.unheard.clear()
        return True

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
        for outcome in outcomes:
            play = self.plays.get(outcome.play)
            begun = outcome.how != "never_began" and play is not None
            if begun and play.id not in self.closed_well and self.began.get(play.id):
                outcome = outcome._replace(how="cut", end=outcome.start)
                self._tell_stuck(play, True)
            self.inputs.append(outcome)

    def _tell_stuck(self, play: Play, stuck: bool) -> None:
        contact = (play.circuit, play.relay)
        if stuck != (contact in self.told_stuck):
            self.told_stuck ^= {contact}
            self.inputs.append(ContactFault(*contact, "stuck", stuck))

    def _forget_play(self, play: int) -> None:
        self.out = {circuit: its for circuit, its in self.out.items() if its != play}

    def _switched(self, switches: list[Switch]) -> None:
        for circuit, relay, closed in switches:
            if closed:
                play = self.out[circuit]
                assert not self.kept_quiet(circuit), "somebody may be at the bell"
                self.closed_at[circuit] = self.t
                self.began.setdefault(play, self.t)
                if self.premises.told(circuit, relay, True, self.t):
                    self.closed_well.add(play)
                    self._tell_stuck(self.plays[play], False)
                continue
            self.premises.told(circuit, relay, False, self.t)
            self.closings.append((circuit, relay, self.closed_at.pop(circuit), self.t))
            self.rung_by.append(self.who_rings(circuit))

    def kept_quiet(self, circuit: str) -> bool:
        """Whether a switch of the panel is closed for this zone."""
        return any(
            self.panel[name]
            and entry.does == "quiet"
            and circuit.removeprefix("zones.") in entry.zones
            for name, entry in self.building.panel.items()
        )
