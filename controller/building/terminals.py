"""Terminals and wires, as the wiring sheet names them: "K zones.north:NO".

A part is named by a letter and by what the file calls it. What belongs to the whole house has a
name in capitals, which no zone, line or panel entry can have.

    G supply   BT battery   V5 converter   F fuse   K relay   B relay board   T timer   H lamp
    S suppressor   R resistor   U isolated input   P what hangs in the building   J joint there
    X terminals in the cabinet   Pi the board's 40-pin header, and its power connector
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal, NamedTuple

from controller.building.header import PIN_OF_GPIO, pin_says

if TYPE_CHECKING:
    from controller.building.conductors import Conductor

# Rows of joined terminals in the cabinet, each with as many as wires come to it.
PLUS = "X+"  # the supply's +, behind the main fuse
BELLS = "XB"  # + for bells, which the feed relay can take away
PANEL = "XP"  # + for the panel's buttons, behind the inputs' fuse
ZERO = "X0"  # the supply's 0 V; not the Pi's ground
V3 = "X3"  # the Pi's 3.3 V
GROUND = "XG"  # the Pi's ground
ROWS = (PLUS, BELLS, PANEL, ZERO, V3, GROUND)

SUPPLY, BATTERY, CONVERTER, BOARD = "G", "BT", "V5", "Pi"
MAIN_FUSE, BATTERY_FUSE, CONVERTER_FUSE = "F MAIN", "F BATTERY", "F V5"
INPUTS_FUSE, HEALTH_FUSE = "F INPUTS", "F HEALTH"
HEALTH_RELAY, HEALTH_LAMP = "K HEALTH", "H HEALTH"
FEED_RELAY, FEED_TIMER, FEED_SUPPRESSOR = "K FEED", "T FEED", "S FEED"
SUPPLY_INPUT = "U SUPPLY"
RELAY_BOARDS = {"high": "B HIGH", "low": "B LOW"}

Kind = Literal["power", "building", "logic", "lead"]


class Terminal(NamedTuple):
    """One place where a wire ends."""

    part: str  # "K zones.north"
    mark: str  # "NO"; in a row of joined terminals its number there

    def __str__(self) -> str:
        return f"{self.part}:{self.mark}"


class Wire(NamedTuple):
    """One wire, from one terminal to another."""

    start: Terminal
    end: Terminal
    group: str  # what it belongs to: "supply", "controller", "feed", "zones.north", "panel.stop"
    kind: Kind  # in the cabinet at 24 V; into the building; at 3.3 or 5 V; a part's own lead
    fuse: str = ""  # the fuse that protects it, by its part; "" where none does
    conductor: Conductor | None = None  # None: to be chosen, or as it is found
    metres: float | None = None  # of the run that it is in
    colour: str = ""  # "" where the installer chooses
    says: str = ""  # what must be known of it


def gpio(number: int) -> Terminal:
    """Where a GPIO number is at the header."""
    return Terminal(BOARD, str(PIN_OF_GPIO[number]))


def relay_names(circuit: str, relays: int) -> tuple[str, ...]:
    """The relays of a circuit, "K lines.main+" and "K lines.main-", or the one."""
    if relays == 1:
        return (f"K {circuit}",)
    return f"K {circuit}+", f"K {circuit}-"


def input_names(circuit: str, senses: int) -> tuple[str, ...]:
    """The isolated inputs that read a circuit's relays, in the relays' order."""
    return tuple(name.replace("K", "U", 1) for name in relay_names(circuit, senses))


def pair_marks(*, alternating: bool) -> tuple[str, str]:
    """The marks of a circuit's two terminals to the building."""
    return ("a", "b") if alternating else ("out", "back")


def shown(terminal: Terminal) -> str:
    """A terminal as people read it: of the header also what the pin is, "Pi:11 (GPIO 17)"."""
    if terminal.part == BOARD and terminal.mark.isdigit():
        return f"{terminal} ({pin_says(int(terminal.mark))})"
    return str(terminal)


def joined_to(wires: Iterable[Wire], terminal: Terminal) -> tuple[Terminal, ...]:
    """The other ends of all wires at a terminal, in the list's order."""
    return tuple(
        wire.end if wire.start == terminal else wire.start
        for wire in wires
        if terminal in (wire.start, wire.end)
    )
