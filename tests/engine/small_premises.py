"""What hangs on the relays of a small world: lines of dials, and the 24 V that moves them.

A coil is live while its contact is closed and the supply is there; its dials know no more than
that. A contact that is stuck does not close; wires that were exchanged turn every polarity round.
"""

from __future__ import annotations

from controller.building.model import Building
from controller.dials.modelled import ModelDial, after_impulse, model_dials
from controller.dials.position import true_position

OTHER = {"+": "-", "-": "+", "": ""}


class SmallPremises:
    def __init__(self, building: Building, utc: int) -> None:
        self.building = building
        self.supply_there = True
        self.stuck: set[tuple[str, int]] = set()  # circuit, relay
        self.exchanged: set[str] = set()  # lines
        self.closed: dict[str, int] = {}  # circuit → the relay whose contact is closed
        self.live: dict[str, int] = {}  # circuit → since when (outside)
        self.dials: dict[str, tuple[ModelDial, ...]] = {}
        for name, line in building.lines.items():
            shown = true_position(line, building.civil, utc)
            self.dials[name] = model_dials(shown, "" if line.drive == "single" else "-")

    def told(self, circuit: str, relay: int, closed: bool, at: int) -> bool:
        """A relay's coil is energised or let go; whether its contact is closed now."""
        if closed and (circuit, relay) not in self.stuck:
            self.closed[circuit] = relay
            if self.supply_there:
                self.live[circuit] = at
        elif not closed and circuit in self.closed:
            self._falls_dead(circuit, at)
            del self.closed[circuit]
        return circuit in self.closed

    def supply(self, there: bool, at: int) -> None:
        """The 24 V goes or comes."""
        self.supply_there = there
        for circuit in self.closed:
            if there:
                self.live[circuit] = at
            else:
                self._falls_dead(circuit, at)

    def _falls_dead(self, circuit: str, at: int) -> None:
        since = self.live.pop(circuit, None)
        kind, name = circuit.split(".", 1)
        if since is None or kind != "lines":
            return
        line = self.building.lines[name]
        polarity = "" if line.drive == "single" else "+-"[self.closed[circuit]]
        if name in self.exchanged:
            polarity = OTHER[polarity]
        self.dials[name] = after_impulse(
            self.dials[name], polarity, at - since, line.impulse_ns, line.positions
        )
