"""The hand: the controller's own rules on modelled pins, with what `circuits/hand.py` puts around.

It is told plays, carries them out when they are due (or somewhat late), reads its inputs and tells
of them. When it hangs it does nothing any more; when it ends its relays open, or stay as they are
until somebody releases them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.words import FAR, Violation, scattered

from controller.building.wiring import wiring_of
from controller.circuits.rules import HandRules, Switch
from controller.engine.contract import Amend, Cancel, Outcome, PanelMoved, Play, SupplyMoved

if TYPE_CHECKING:
    from simulator.world import World

    from controller.building.model import Building
    from controller.circuits.wire import ToHand


class Hand:
    def __init__(self, world: World, building: Building, name: str) -> None:
        self.world = world
        self.name = name
        self.hung = False
        self.ended = False
        self.wakes = 0
        self.plays: dict[str, Play] = {}  # by circuit, as it has them
        self.wiring = wiring_of(building)
        self.senses = frozenset(one.name for one in self.wiring.circuits if one.sense)
        world.parts.wire({c.name: len(c.relays) for c in self.wiring.circuits}, self.senses)
        self.rules = HandRules(name, self.wiring.circuits, world.mono)
        self.panel = {entry.name: entry for entry in self.wiring.panel}
        world.parts.nothing_reads()
        world.parts.sensed = self.sensed
        if self.wiring.supply_sense is not None:
            world.parts.supply_seen = self.supply_seen
        for circuit in self.senses:
            for number, relay in enumerate(world.parts.relays[circuit]):
                self.rules.sensed(circuit, number, relay.contact, world.mono)
        self.rules.quiet(self._quiet_circuits(), world.mono)
        self.due = FAR
        self.look()

    @property
    def supply_there(self) -> bool:
        return self.wiring.supply_sense is None or self.world.parts.supply_reads

    def closed_contacts(self) -> tuple[tuple[str, bool], ...]:
        return tuple((name, name in self.world.pressed) for name in self.panel)

    # ── time ─────────────────────────────────────────────────────────────────────────────────

    def look(self) -> None:
        """When it has something to do next, outside; a busy machine has it wake late."""
        instant = self.rules.next_instant()
        if instant is None or self.hung or self.ended:
            self.due = FAR
            return
        self.due = instant + self.world.clock.mono_zero
        late = self.world.hand_late_ns
        if late and self.due > self.world.t:
            self.wakes += 1
            self.due += int(scattered(self.world.seed + 2, self.wakes) * late)

    def advance(self) -> None:
        self.carry_out(*self.rules.advance(self.world.mono))
        self._tell_found()
        self.look()

    # ── the daemon's words ───────────────────────────────────────────────────────────────────

    def tell(self, message: ToHand) -> None:
        """The daemon says something, which may take its time to arrive."""
        if self.world.words_late:
            self.world.later(lambda: self.hear(message))
        else:
            self.hear(message)

    def hear(self, message: ToHand) -> None:
        if self.hung or self.ended:
            return
        mono = self.world.mono
        cls = message.__class__
        if cls is Play:
            refused = self.rules.take(message, mono)
            if refused is not None:
                self._say(refused)
            else:
                self.plays[message.circuit] = message
                if self.world.moments.armed:
                    what = "impulse" if message.circuit[0] == "l" else "ring"
                    self.world.moments.comes(f"{what} stored", message.start_mono - mono)
        elif cls is Cancel:
            self.carry_out(*self.rules.cancel(message, mono))
        elif cls is Amend:
            said = self.rules.amend(message, mono)
            if said.accepted:
                self._amended(message)
            self._say(said)
        self._tell_found()
        self.look()

    def _amended(self, amend: Amend) -> None:
        for circuit, play in self.plays.items():
            if play.id == amend.play:
                self.plays[circuit] = play._replace(edges=amend.edges)

    def _say(self, message) -> None:
        if self.world.words_late:
            daemon = self.world.daemon
            self.world.later(lambda: daemon.put(message))
        else:
            self.world.daemon.put(message)

    def carry_out(self, switches: list[Switch], outcomes: list[Outcome]) -> None:
        if len(switches) > 1:
            switches = sorted(switches, key=lambda one: one.closed)
        for circuit, relay, closed in switches:
            self.world.judge.switched(circuit, relay, closed, self.plays.get(circuit))
            self.world.parts.switch(circuit, relay, closed)
            if self.world.moments.armed:
                self._moment(circuit, closed)
        for outcome in outcomes:
            self._forget(outcome)
            self._say(outcome)

    def _moment(self, circuit: str, closed: bool) -> None:
        moments, play = self.world.moments, self.plays.get(circuit)
        if circuit[0] == "z":
            if closed and play is not None:
                moments.comes("ringing", play.edges[-1])
            return
        rules = self.world.judge.lines[circuit[6:]].rules
        moments.comes(
            "in an impulse" if closed else "after an impulse",
            rules.impulse if closed else rules.gap,
        )
        if closed and "catching up" in moments.now():
            moments.comes("catching up", rules.impulse + rules.gap)

    def _forget(self, outcome: Outcome) -> None:
        for circuit, play in self.plays.items():
            if play.id == outcome.play:
                del self.plays[circuit]
                self.world.judge.play_ended(play, outcome.how)
                return
        raise Violation("an outcome of a play", f"{outcome} was never taken")

    # ── inputs ───────────────────────────────────────────────────────────────────────────────

    def sensed(self, circuit: str, relay: int, closed: bool) -> None:
        if self.hung or self.ended:
            return
        self.rules.sensed(circuit, relay, closed, self.world.mono)
        self._tell_found()
        self.look()

    def _tell_found(self) -> None:
        if self.senses:
            for fault in self.rules.found():
                self._say(fault)

    def supply_seen(self, there: bool, when: int) -> None:
        if not (self.hung or self.ended):
            self._say(SupplyMoved(there, when - self.world.clock.mono_zero))

    def panel_moved(self, name: str, closed: bool) -> None:
        if self.hung or self.ended or name not in self.panel:
            return
        self._say(PanelMoved(name, closed))
        does = self.panel[name].does
        if does == "stop" and closed:
            self.carry_out(*self.rules.stop(self.world.mono))
        elif does == "quiet":
            self.carry_out(*self.rules.quiet(self._quiet_circuits(), self.world.mono))
        self.look()

    def _quiet_circuits(self) -> frozenset[str]:
        return frozenset(
            f"zones.{zone}"
            for name, entry in self.panel.items()
            if entry.does == "quiet" and name in self.world.pressed
            for zone in entry.zones
        )

    # ── its end ──────────────────────────────────────────────────────────────────────────────

    def open_all(self, *, heard: bool) -> None:
        """It opens every relay and ends; `heard`: the daemon still hears what became of plays."""
        switches, outcomes = self.rules.open_all(self.world.mono)
        if heard:
            self.carry_out(switches, outcomes)
        self.release()
        self.ended = True
        self.due = FAR

    def release(self) -> None:
        """Whatever is still closed is opened, by itself, by `release` or by a want of power."""
        for circuit, relays in self.world.parts.relays.items():
            for number, relay in enumerate(relays):
                if relay.coil:
                    self.world.judge.switched(circuit, number, False, self.plays.get(circuit))
                    self.world.parts.switch(circuit, number, False)
        for play in self.plays.values():
            self.world.judge.play_ended(play, "gone")
        self.plays.clear()
        self.world.judge.hand_released()
