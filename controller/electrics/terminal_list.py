"""The terminal list: every wire of the house once, from terminal to terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from controller.building.header import GROUND_PINS, V3_PINS
from controller.building.model import Building
from controller.building.terminals import (
    BATTERY,
    BATTERY_FUSE,
    BELLS,
    BOARD,
    CONVERTER,
    CONVERTER_FUSE,
    FEED_RELAY,
    FEED_SUPPRESSOR,
    FEED_TIMER,
    GROUND,
    HEALTH_FUSE,
    HEALTH_LAMP,
    HEALTH_RELAY,
    MAIN_FUSE,
    PLUS,
    RELAY_BOARDS,
    ROWS,
    SUPPLY,
    V3,
    ZERO,
    Terminal,
    Wire,
    gpio,
)
from controller.building.wiring import wiring_of
from controller.electrics.circuit_wires import circuit_wires
from controller.electrics.input_wires import input_wires


def terminal_list(building: Building) -> tuple[Wire, ...]:
    """Every wire: supply, controller and feed first, then what the file has, in its order.

    Rows of joined terminals and joints are numbered in that order.
    """
    order = ["supply", "controller", "feed"]
    order += [f"zones.{name}" for name in building.zones]
    order += [f"lines.{name}" for name in building.lines]
    order += [f"returns.{name}" for name in building.returns]
    order += ["panel", *(f"panel.{name}" for name in building.panel)]
    place = {group: number for number, group in enumerate(order)}
    wires = (
        *_supply(building),
        *_controller(building),
        *_feed(building),
        *circuit_wires(building),
        *input_wires(building),
    )
    return tuple(_numbered(sorted(wires, key=lambda wire: place[wire.group])))


def is_joined(part: str) -> bool:
    """Whether all terminals of a part are one: a row, or a joint in the building."""
    return part in ROWS or part.startswith("J ")


def _numbered(wires: Iterable[Wire]) -> Iterator[Wire]:
    last: Counter[str] = Counter()

    def own(end: Terminal) -> Terminal:
        if not is_joined(end.part):
            return end
        last[end.part] += 1
        return end._replace(mark=str(last[end.part]))

    for wire in wires:
        yield wire._replace(start=own(wire.start), end=own(wire.end))


def _supply(building: Building) -> Iterator[Wire]:
    plus, zero = (*(building.supply.colours or ()), "", "")[:2]
    ends = [
        (Terminal(SUPPLY, "+"), Terminal(MAIN_FUSE, "1"), "", plus),
        (Terminal(MAIN_FUSE, "2"), Terminal(PLUS, ""), MAIN_FUSE, plus),
        (Terminal(SUPPLY, "0"), Terminal(ZERO, ""), MAIN_FUSE, zero),
    ]
    if building.battery is not None:
        ends += [
            (Terminal(BATTERY, "+"), Terminal(BATTERY_FUSE, "1"), "", plus),
            (Terminal(BATTERY_FUSE, "2"), Terminal(PLUS, ""), BATTERY_FUSE, plus),
            (Terminal(BATTERY, "-"), Terminal(ZERO, ""), BATTERY_FUSE, zero),
        ]
    for start, end, fuse, colour in ends:
        yield Wire(start, end, "supply", "power", fuse, colour=colour)


def _controller(building: Building) -> Iterator[Wire]:
    """The Pi and the relay boards, from a converter that isolates them from the 24 V."""
    for start, end in (
        (Terminal(PLUS, ""), Terminal(CONVERTER_FUSE, "1")),
        (Terminal(CONVERTER_FUSE, "2"), Terminal(CONVERTER, "in +")),
        (Terminal(ZERO, ""), Terminal(CONVERTER, "in 0")),
    ):
        fuse = MAIN_FUSE if end.part == CONVERTER_FUSE else CONVERTER_FUSE
        yield Wire(start, end, "controller", "power", fuse)
    pairs = [
        (Terminal(CONVERTER, "5 V +"), Terminal(BOARD, "power +"), "its power connector"),
        (Terminal(CONVERTER, "5 V 0"), Terminal(BOARD, "power 0"), "its power connector"),
        (Terminal(BOARD, str(V3_PINS[0])), Terminal(V3, ""), ""),
        (Terminal(BOARD, str(GROUND_PINS[0])), Terminal(GROUND, ""), ""),
    ]
    wiring = wiring_of(building)
    used = {circuit.active for circuit in wiring.circuits}
    used |= {wiring.health[1]} if wiring.health is not None else set()
    if "high" in used:
        board = RELAY_BOARDS["high"]
        pairs += [
            (Terminal(CONVERTER, "5 V +"), Terminal(board, "coil +"), "volts as its maker says"),
            (Terminal(CONVERTER, "5 V 0"), Terminal(board, "coil 0"), ""),
            (Terminal(GROUND, ""), Terminal(board, "ground"), "of its inputs"),
        ]
    if "low" in used:
        board = RELAY_BOARDS["low"]
        pairs += [
            (Terminal(CONVERTER, "5 V +"), Terminal(board, "coil +"), "volts as its maker says"),
            (Terminal(CONVERTER, "5 V 0"), Terminal(board, "coil 0"), ""),
            (Terminal(V3, ""), Terminal(board, "inputs +"), "3.3 V; no link to its coils' +"),
        ]
    for start, end, says in pairs:
        yield Wire(start, end, "controller", "logic", says=says)


def _feed(building: Building) -> Iterator[Wire]:
    """The bells' feed: straight, or through a relay that falls some time after the health relay."""
    if building.health is None:
        yield Wire(Terminal(PLUS, ""), Terminal(BELLS, ""), "feed", "power", MAIN_FUSE)
        return
    active = building.health.active
    says = f"active {active}, on {RELAY_BOARDS[active]}"
    yield Wire(
        gpio(building.health.relay), Terminal(HEALTH_RELAY, "IN"), "feed", "logic", says=says
    )
    yield Wire(Terminal(PLUS, ""), Terminal(HEALTH_FUSE, "1"), "feed", "power", MAIN_FUSE)
    for start, end in (
        (Terminal(HEALTH_FUSE, "2"), Terminal(HEALTH_RELAY, "C")),
        (Terminal(HEALTH_RELAY, "NO"), Terminal(HEALTH_LAMP, "1")),
        (Terminal(HEALTH_LAMP, "2"), Terminal(ZERO, "")),
        (Terminal(HEALTH_RELAY, "NO"), Terminal(FEED_TIMER, "A1")),
        (Terminal(FEED_TIMER, "A2"), Terminal(ZERO, "")),
        (Terminal(HEALTH_FUSE, "2"), Terminal(FEED_TIMER, "15")),
        (Terminal(FEED_TIMER, "18"), Terminal(FEED_RELAY, "A1")),
        (Terminal(FEED_RELAY, "A2"), Terminal(ZERO, "")),
    ):
        yield Wire(start, end, "feed", "power", HEALTH_FUSE)
    for mark, coil in (("K", "A1"), ("A", "A2")):
        leads = Terminal(FEED_SUPPRESSOR, mark), Terminal(FEED_RELAY, coil)
        yield Wire(*leads, "feed", "lead", HEALTH_FUSE, says="diode; K is the stripe")
    yield Wire(Terminal(PLUS, ""), Terminal(FEED_RELAY, "C"), "feed", "power", MAIN_FUSE)
    yield Wire(Terminal(FEED_RELAY, "NO"), Terminal(BELLS, ""), "feed", "power", MAIN_FUSE)
