"""What hangs on the pins: relays with their contacts, dials, bells, the 24 V.

A relay's contact follows its coil at once, unless something is the matter with it:

    stuck      does not close           welded     does not open, once it has closed
    slow       closes and opens late    bouncing   opens again for a moment, some times over

A line is energised while exactly one of its contacts is closed and the 24 V is there. A dial takes
an impulse that lasted for its share of the set length and, on an alternating line, whose polarity
is not the one that it took last. Written apart from `controller.dials.modelled`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from simulator.words import MILLISECOND

if TYPE_CHECKING:
    from simulator.world import World

SHARES = (30, 50, 70)  # percent of the set length, as design section 6 has it
SUPPLY_SEEN_NS = 5 * MILLISECOND  # an absence that is shorter is debounced away


class Relay:
    def __init__(self) -> None:
        self.coil = False
        self.contact = False
        self.mode = ""  # stuck, welded, slow, bouncing
        self.pull_ns = 0
        self.drop_ns = 0
        self.orders = 0  # how often its coil was switched


class Dials:
    """The three dials of one line and what its wires carry."""

    def __init__(self, impulse_ns: int, positions: int, alternating: bool, shown: int) -> None:
        self.positions = positions
        self.alternating = alternating
        self.shows = [shown] * 3
        self.took = [2] * 3  # 1: +, 2: −
        self.need = [-(-impulse_ns * share // 100) for share in SHARES]
        self.exchanged = False  # somebody has exchanged the line's two wires
        self.energised = 0  # 0: no, 1: +, 2: −
        self.since = 0

    def carry(self, polarity: int, t: int) -> None:
        """From `t` on its wires carry this."""
        if polarity == self.energised:
            return
        if self.energised:
            self.shows, self.took = self._after(t)
        self.energised, self.since = polarity, t

    def _after(self, t: int) -> tuple[list[int], list[int]]:
        lasted, polarity = t - self.since, self.energised
        shows, took = self.shows, self.took
        if lasted >= self.need[2] and (not self.alternating or took.count(3 - polarity) == 3):
            return [(one + 1) % self.positions for one in shows], [polarity] * 3
        shows, took = [*shows], [*took]
        for place in range(3):
            heeds = not self.alternating or took[place] != polarity
            if heeds and lasted >= self.need[place]:
                shows[place] = (shows[place] + 1) % self.positions
                took[place] = polarity
        return shows, took

    def look(self, t: int) -> tuple[list[int], list[int]]:
        """What they show at `t`, and the polarity that each took last."""
        return self._after(t) if self.energised else (self.shows, self.took)

    def put_together(self, shown: int, took: int) -> None:
        """A person has set every dial at the dial."""
        self.shows, self.took = [shown] * 3, [took] * 3


class Parts:
    """All of them. `sensed` hears of contacts that somebody reads, `supply_seen` of the 24 V."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.relays: dict[str, list[Relay]] = {}
        self.reads: frozenset[str] = frozenset()  # circuits with senses
        self.dials: dict[str, Dials] = {}  # by circuit
        self.supply = True
        self.supply_reads = True  # debounced
        self.sensed: Callable[[str, int, bool], None] | None = None
        self.supply_seen: Callable[[bool, int], None] | None = None

    def wire(self, circuits: dict[str, int], reads: frozenset[str]) -> None:
        """These circuits, with so many relays each, and no others; all coils are let go."""
        self.relays = {
            name: self.relays.get(name) or [Relay() for _ in range(number)]
            for name, number in circuits.items()
        }
        self.reads = reads

    # ── relays ───────────────────────────────────────────────────────────────────────────────

    def switch(self, circuit: str, relay: int, closed: bool) -> None:
        """A coil is energised or let go."""
        one = self.relays[circuit][relay]
        one.coil = closed
        one.orders += 1
        if not one.mode:
            self._move(circuit, relay, one, closed)
        elif one.mode == "slow":
            self._later(circuit, relay, one.pull_ns if closed else one.drop_ns, closed)
        elif one.mode == "bouncing":
            self._move(circuit, relay, one, closed)
            for bounce in range(3):
                self._later(circuit, relay, (8 * bounce + 4) * MILLISECOND, not closed)
                self._later(circuit, relay, (8 * bounce + 8) * MILLISECOND, closed)
        elif one.mode == ("stuck" if not closed else "welded"):
            self._move(circuit, relay, one, closed)

    def _later(self, circuit: str, relay: int, after: int, closed: bool) -> None:
        one = self.relays[circuit][relay]
        order = one.orders

        def moves() -> None:
            if one.orders == order and one.mode in ("slow", "bouncing"):
                self._move(circuit, relay, one, closed)

        self.world.plan(self.world.t + after, moves)

    def _move(self, circuit: str, relay: int, one: Relay, closed: bool) -> None:
        if one.contact == closed:
            return
        one.contact = closed
        dials = self.dials.get(circuit)
        if dials is not None:
            self._energise(circuit, dials)
        if circuit in self.reads and self.sensed is not None:
            self.sensed(circuit, relay, closed)

    def ail(self, circuit: str, relay: int, mode: str, pull_ns: int = 0, drop_ns: int = 0) -> None:
        """Something is the matter with a relay; or nothing any more."""
        if circuit not in self.relays:
            return
        one = self.relays[circuit][relay]
        one.mode, one.pull_ns, one.drop_ns = mode, pull_ns, drop_ns
        one.orders += 1
        if mode == "stuck":
            self._move(circuit, relay, one, False)
        elif not mode:
            self._move(circuit, relay, one, one.coil)

    def _energise(self, circuit: str, dials: Dials) -> None:
        relays = self.relays.get(circuit)
        polarity = 0
        if relays is not None and self.supply:
            if len(relays) == 1:
                polarity = 1 if relays[0].contact else 0
            elif relays[0].contact != relays[1].contact:
                polarity = 1 if relays[0].contact != dials.exchanged else 2
        dials.carry(polarity, self.world.t)

    # ── the 24 V ─────────────────────────────────────────────────────────────────────────────

    def power(self, there: bool) -> None:
        """The 24 V goes, or comes back."""
        if there == self.supply:
            return
        self.supply = there
        self.world.judge.supply_changes()
        for circuit, dials in self.dials.items():
            self._energise(circuit, dials)
        went = self.world.t

        def seen() -> None:
            if self.supply == there != self.supply_reads:
                self.supply_reads = there
                if self.supply_seen is not None:
                    self.supply_seen(there, went)

        self.world.plan(went + SUPPLY_SEEN_NS, seen)

    def nothing_reads(self) -> None:
        """No hand listens."""
        self.sensed = self.supply_seen = None
        self.supply_reads = self.supply
