"""The daemon: the engine in its room, which is the controller's own (`real.py`).

`EngineRoom` steps the engine, lets plays wait for their batch, takes them back there, forgets what
was for a hand that is gone. Here is what the daemon puts around it: hand, store, clock, wake-ups.
Its inputs wait while it hangs.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from simulator.real import EngineRoom
from simulator.words import FAR, MILLISECOND, SECOND

from controller.engine.contract import Answer, Decision, HandReady, Input, Now, Stored, Tick
from controller.engine.records import Record
from controller.engine.recover import recover
from controller.engine.state import State

if TYPE_CHECKING:
    from simulator.world import World

    from controller.building.model import Building
    from controller.circuits.wire import ToHand

BEAT_NS = SECOND
_LEAST_SLEEP_NS = MILLISECOND
_MOST_AT_ONCE = 50_000


class Daemon(EngineRoom):
    def __init__(
        self, world: World, building: Building, before: Building | None, records: list[Record]
    ) -> None:
        self.world = world
        self.started = world.t
        self.inputs: deque[Input] = deque()
        self.look = FAR
        self.working = False
        self.hung = False
        self.ended = False
        self.ending = False  # it stores what is owed, and ends
        now = Now(world.utc, world.mono, world.clock.boot, world.vouched())
        super().__init__(building, recover(building, records, now, before), self)

    def start(self) -> None:
        """Its first inputs: look, and a hand is ready."""
        hand = self.world.hand
        self._look_at_clock()
        self.inputs.append(Tick())
        self.inputs.append(HandReady(hand.name, hand.closed_contacts(), hand.supply_there))
        self.drain()

    # ── inputs ───────────────────────────────────────────────────────────────────────────────

    def put(self, given: Input) -> None:
        if self.ended:
            return
        self.inputs.append(given)
        if not self.working:
            self.drain()

    def stored(self, batch: int, ok: bool) -> None:
        """The store's word."""
        self.put(Stored(batch, ok))

    def wake(self) -> None:
        """The instant at which it wanted to look again."""
        self.look = FAR
        self.put(Tick())

    def clock_beat(self) -> None:
        """It looks at the clock: was it stepped, does somebody vouch for it?"""
        if not (self.ended or self.hung) and self._look_at_clock():
            self.put(Tick())

    def next_beat(self) -> int:
        """When it beats next, outside."""
        since = self.world.t - self.started
        return self.started + (since // BEAT_NS + 1) * BEAT_NS

    def drain(self) -> None:
        """Take the inputs one after another."""
        if self.hung:
            return
        self.working = True
        taken = 0
        while self.inputs and not self.ended:
            self._take(self.inputs.popleft())
            taken += 1
            assert taken < _MOST_AT_ONCE, "engine and hand go in circles at one instant"
        self.working = False

    def _now(self) -> Now:
        """Where the clock was set since the last beat, who vouches for it now is asked afresh."""
        if self.world.clock.shift + self.world.clock.mono_zero != self._ahead:
            self._look_at_clock()
        return super()._now()

    def _step(self, given: Input) -> None:
        self.world.judge.input(given)
        super()._step(given)

    def _wake(self, now: Now, decision: Decision) -> None:
        """As the scheduler has it: it sleeps on the monotonic clock."""
        look = FAR
        if decision.look_again_utc is not None:
            look = decision.look_again_utc - now.utc
        if decision.look_again_mono is not None:
            look = min(look, decision.look_again_mono - now.mono)
        self.look = FAR if look == FAR else self.world.t + max(look, _LEAST_SLEEP_NS)

    # ── what the engine's room needs of the daemon (`engine_room.Around`) ────────────────────

    def tell_hand(self, message: ToHand) -> bool:
        if self.world.hand is not None:
            self.world.hand.tell(message)
        return True

    def commit(self, batch: int, records: tuple[Record, ...]) -> None:
        self.world.journal.commit(batch, records)

    def vouched(self) -> bool:
        return self.world.vouched()

    def answered(self, answer: Answer) -> None:
        self.world.answered(answer)

    def decided(self, decision: Decision) -> None:
        self.world.judge.decided(decision)

    def beat(self, state: State, *, well: bool) -> None:
        """The health relay is not modelled."""
