"""The wires of isolated inputs: the old panel, the senses, the supply's sense.

An opto-coupler stands between the 24 V and every pin. Where the pin is to be low while its contact
is closed, the coupler joins it to ground, else to 3.3 V; the Pi pulls it the other way.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.model import Building
from controller.building.terminals import (
    GROUND,
    INPUTS_FUSE,
    MAIN_FUSE,
    PANEL,
    PLUS,
    SUPPLY_INPUT,
    V3,
    ZERO,
    Terminal,
    Wire,
    gpio,
    input_names,
    relay_names,
)
from controller.building.wiring import Level, wiring_of


def input_wires(building: Building) -> Iterator[Wire]:
    """Of senses first, in the file's order, then of the supply's sense and of the panel."""
    wiring = wiring_of(building)
    for circuit in wiring.circuits:
        pins = circuit.sense or ()
        mark = "C" if len(circuit.relays) == 2 else "NO"
        relays = relay_names(circuit.name, len(circuit.relays))
        for name, relay, pin in zip(
            input_names(circuit.name, len(pins)) if pins else (), relays, pins, strict=False
        ):
            fuse = f"F {circuit.name}"
            yield Wire(Terminal(relay, mark), Terminal(name, "in +"), circuit.name, "power", fuse)
            yield Wire(Terminal(name, "in 0"), Terminal(ZERO, ""), circuit.name, "power", fuse)
            yield from _to_pin(name, pin, "high", circuit.name)
    if wiring.supply_sense is not None:
        yield Wire(Terminal(PLUS, ""), Terminal(SUPPLY_INPUT, "in +"), "supply", "power", MAIN_FUSE)
        yield Wire(Terminal(SUPPLY_INPUT, "in 0"), Terminal(ZERO, ""), "supply", "power", MAIN_FUSE)
        yield from _to_pin(SUPPLY_INPUT, wiring.supply_sense, "high", "supply")
    if wiring.panel:
        yield Wire(Terminal(PLUS, ""), Terminal(INPUTS_FUSE, "1"), "panel", "power", MAIN_FUSE)
        feed = Terminal(INPUTS_FUSE, "2"), Terminal(PANEL, "")
        yield Wire(*feed, "panel", "power", INPUTS_FUSE)
    for name, entry in building.panel.items():
        group, button, coupler = f"panel.{name}", f"P panel.{name}", f"U panel.{name}"
        there, back = (*(entry.colours or ()), "", "")[:2]
        ends = (
            (Terminal(PANEL, ""), Terminal(button, "1"), there),
            (Terminal(button, "2"), Terminal(coupler, "in +"), back),
        )
        for start, end, colour in ends:
            yield Wire(start, end, group, "building", INPUTS_FUSE, colour=colour)
        yield Wire(Terminal(coupler, "in 0"), Terminal(ZERO, ""), group, "power", INPUTS_FUSE)
        yield from _to_pin(coupler, entry.pin, entry.active, group)


def _to_pin(coupler: str, pin: int, active: Level, group: str) -> Iterator[Wire]:
    """The coupler's transistor: collector C, emitter E."""
    collector, emitter = Terminal(coupler, "C"), Terminal(coupler, "E")
    if active == "low":
        yield Wire(collector, gpio(pin), group, "logic", says="low while closed")
        yield Wire(emitter, Terminal(GROUND, ""), group, "logic")
    else:
        yield Wire(Terminal(V3, ""), collector, group, "logic")
        yield Wire(emitter, gpio(pin), group, "logic", says="high while closed")
