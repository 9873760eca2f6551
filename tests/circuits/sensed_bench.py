"""The hand's rules on a bench where senses read relays, which may be stuck, welded, slow, bouncing.

A relay's contact follows its coil after pull-in and drop-out, and its sense tells of it at once.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from heapq import heappop, heappush

from hand_bench import MINUTE, SECOND, START, Bench, ns

from controller.building.wiring import Circuit
from controller.circuits.rules import Switch
from controller.engine.contract import Outcome

BELL = Circuit("zones.bell", "zone", (17,), "high", 4 * SECOND, 10 * SECOND, 0, (5,))
GONG = Circuit("zones.gong", "zone", (27,), "high", 10 * SECOND, MINUTE, 0, None)
MAIN = Circuit("lines.main", "line", (22, 23), "high", SECOND, 0, SECOND, (6, 7))
YARD = Circuit("lines.yard", "line", (24,), "high", 2 * SECOND, 0, SECOND // 5, (8,))
SENSED = {circuit.name: circuit for circuit in (BELL, GONG, MAIN, YARD)}

Key = tuple[str, int]  # circuit and relay
PLUS, MINUS, BELLS = ("lines.main", 0), ("lines.main", 1), ("zones.bell", 0)
DIALS = ("lines.yard", 0)


@dataclass
class Relay:
    """Seconds, as all of a bench is."""

    pull_in: float = 0.006
    drop_out: float = 0.004
    stuck: bool = False
    welded: bool = False
    bounces: tuple[float, ...] = ()  # after it moved: when it goes back, forth, back, forth …
    turn: int = 0


class SensedBench(Bench):
    """A bench with a relay on every coil that has a sense, and a record of what was found."""

    def __init__(self) -> None:
        super().__init__(circuits=SENSED.values())
        self.relays = {
            (name, relay): Relay()
            for name, circuit in SENSED.items()
            for relay in range(len(circuit.sense or ()))
        }
        self.contacts = dict.fromkeys(self.relays, False)
        self.read: dict[Key, bool] = {}
        self.found: list[tuple[float, Key, str, bool]] = []  # s from the start, which, kind, lasts
        self._moves: list[tuple[int, int, Key, int, bool]] = []
        self._order = itertools.count()
        for key in self.relays:
            self.sense(key, False)

    def sense(self, key: Key, closed: bool, ago: float = 0) -> None:
        """The sense input reads so, since some seconds ago."""
        self.read[key] = closed
        self.rules.sensed(*key, closed, self.now - ns(ago)[0])
        self._listen()

    def cancel(self, play: int, *, stop: bool = False) -> None:
        super().cancel(play, stop=stop)
        self._listen()

    def weld(self, key: Key) -> None:
        self.relays[key].welded = True

    def break_loose(self, key: Key) -> None:
        """A welded contact opens, as its coil is let go."""
        self.relays[key].welded = False
        self.contacts[key] = False
        self.sense(key, False)

    def wait(self, seconds: float) -> None:
        end = self.now + ns(seconds)[0]
        while True:
            instant = self.rules.next_instant()
            moves = self._moves[0][0] if self._moves else None
            instants = [one for one in (instant, moves) if one is not None and one <= end]
            if not instants:
                break
            self.now = max(self.now, min(instants))
            self._move_contacts()
            self.happened(*self.rules.advance(self.now))
            self._listen()
        self.now = end

    def sleep(self, seconds: float) -> None:
        """The hand is stopped; contacts move meanwhile, and their edges wait to be read."""
        self.now += ns(seconds)[0]
        self._move_contacts()
        self.happened(*self.rules.advance(self.now))
        self._listen()

    def happened(self, switches: list[Switch], outcomes: list[Outcome]) -> None:
        super().happened(switches, outcomes)
        for switch in switches:
            relay = self.relays.get((switch.circuit, switch.relay))
            if relay is not None:
                self._follow((switch.circuit, switch.relay), relay, switch.closed)

    def _follow(self, key: Key, relay: Relay, closed: bool) -> None:
        relay.turn += 1
        held = relay.stuck if closed else relay.welded
        if held or self.contacts[key] == closed:
            return
        moved = relay.pull_in if closed else relay.drop_out
        for count, after in enumerate((0, *relay.bounces)):
            at = self.now + ns(moved + after)[0]
            move = (at, next(self._order), key, relay.turn, closed == (count % 2 == 0))
            heappush(self._moves, move)

    def _move_contacts(self) -> None:
        while self._moves and self._moves[0][0] <= self.now:
            at, _, key, turn, closed = heappop(self._moves)
            if turn == self.relays[key].turn:
                self.contacts[key] = self.read[key] = closed
                self.rules.sensed(*key, closed, at)

    def _listen(self) -> None:
        at = round((self.now - START) / SECOND, 3)
        for fault in self.rules.found():
            self.found.append((at, (fault.circuit, fault.relay), fault.kind, fault.lasts))

    def lasting(self) -> set[tuple[Key, str]]:
        """Faults that have begun and not ended; each begins and ends by turns."""
        lasts: set[tuple[Key, str]] = set()
        for _, key, kind, began in self.found:
            assert ((key, kind) in lasts) != began, "told once"
            (lasts.add if began else lasts.remove)((key, kind))
        return lasts


def impulse(bench: Bench, relay: int = 0, **when: float) -> int:
    """Ask for one impulse of the line with two relays."""
    return bench.play("lines.main", 0, 1, relay=relay, **when)
