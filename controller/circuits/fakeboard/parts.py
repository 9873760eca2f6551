"""What hangs on the fake board's pins: relays, inputs, bells and lines of dials."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from controller.building.wiring import Circuit, Level, PanelInput, Wiring
from controller.dials.modelled import ModelDial, Polarity

if TYPE_CHECKING:
    from controller.building.installed import Line

MILLISECOND = 1_000_000
PULL_IN_NS = 6 * MILLISECOND  # of a small relay: common practice, no source
DROP_OUT_NS = 4 * MILLISECOND  # as above
# A bouncing contact goes back so many times before it stays, and so long from change to change: bad
# enough to be told through a sense's debounce, and after a sound one would have settled. A choice.
BOUNCES = 3
BOUNCE_NS = 8 * MILLISECOND
Fault = Literal["slow", "stuck", "welded", "bouncing"]


@dataclass
class Relay:
    """A coil behind a pin, and its contact."""

    name: str  # "zones.north", "lines.main+", "health"
    pin: int
    active: Level
    circuit: Circuit | None  # None: the health relay, which switches nothing that is modelled
    coil_pin: int  # the pin that works it: another where the wires of + and − are swapped
    energised: bool = False
    contact: bool = False
    sounding: bool = False  # the bells behind it
    faults: dict[Fault, int] = field(default_factory=dict)  # ns, where a fault has a length
    turn: int = 0  # what was set going before the coil's latest change is void

    def wanted(self) -> bool:
        """Where the contact tends."""
        if "stuck" in self.faults:
            return False
        return self.energised or "welded" in self.faults


@dataclass
class Input:
    """A contact that the board reads: a button, a switch, a relay's sense, the supply's."""

    name: str
    pin: int
    active: Level
    panel: PanelInput | None  # None: it follows something on the board
    closed: bool = False

    @property
    def high(self) -> bool:
        """The level that it puts on its pin."""
        return self.closed == (self.active == "high")


@dataclass
class DialLine:
    """The dials of a line. `current` is the polarity of what flows, None where nothing does."""

    name: str
    line: Line
    relays: tuple[Relay, ...]
    dials: tuple[ModelDial, ...]
    current: Polarity | None = None
    flow: int = 0  # counts the changes of current: what a dial had begun to take ends with each

    @property
    def swapped(self) -> bool:
        """Whether the wires of its + and − are exchanged."""
        return self.relays[0].coil_pin != self.relays[0].pin

    def flowing(self, supply: bool) -> Polarity | None:
        """What flows, as the contacts are: both relays alike join the line to the same rail."""
        closed = [relay.contact for relay in self.relays]
        if not supply or sum(closed) != 1:
            return None
        if len(closed) == 1:
            return ""
        return "+" if closed[0] else "-"


def relays_of(wiring: Wiring) -> tuple[Relay, ...]:
    """One for each relay of the building, in the file's order."""
    relays = []
    for circuit in wiring.circuits:
        marks = ("+", "-") if len(circuit.relays) == 2 else ("",)
        for pin, mark in zip(circuit.relays, marks, strict=True):
            relays.append(Relay(circuit.name + mark, pin, circuit.active, circuit, pin))
    if wiring.health is not None:
        pin, active = wiring.health
        relays.append(Relay("health", pin, active, None, pin))
    return tuple(relays)


def senses_of(relays: tuple[Relay, ...]) -> dict[str, Input]:
    """The inputs that read a contact back, by the relay's name."""
    senses = {}
    for relay in relays:
        if relay.circuit is not None and relay.circuit.sense is not None:
            pin = relay.circuit.sense[relay.circuit.relays.index(relay.pin)]
            # High while the contact is closed: the wiring guide's drawing.
            senses[relay.name] = Input(f"{relay.name} sense", pin, "high", None)
    return senses
