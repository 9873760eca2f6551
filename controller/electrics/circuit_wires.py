"""The wires of bells and dials: from the rail through fuse and relay into the building, and back.

The forms are those of the wiring guide: a make contact for a zone or a single line, two change-over
contacts for an alternating line, both of them at rest on 0 V (design rule 12).
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.installed import Line
from controller.building.model import Building
from controller.building.terminals import (
    BELLS,
    MAIN_FUSE,
    PLUS,
    RELAY_BOARDS,
    ZERO,
    Kind,
    Terminal,
    Wire,
    gpio,
    pair_marks,
    relay_names,
)
from controller.electrics.feeds import Feed, feeds
from controller.electrics.suppressors import Placed, placed


def circuit_wires(building: Building) -> Iterator[Wire]:
    """Of every zone and line, in the file's order, and of the returns that some share."""
    for feed in feeds(building):
        yield from _inputs_of_relays(feed)
        yield from _alternating(feed) if feed.load == "alternating" else _switched(feed)
        yield from _suppressor(feed, placed(feed.circuit.suppressor, feed.load))
    for name, shared in building.returns.items():
        group, back = f"returns.{name}", Terminal(f"X returns.{name}", "back")
        yield Wire(
            Terminal(f"J returns.{name}", ""),
            back,
            group,
            "building",
            conductor=shared.wire,
            metres=shared.metres,
            colour=shared.colour or "",
        )
        yield Wire(back, Terminal(ZERO, ""), group, "power")


def relays_of(feed: Feed) -> tuple[int, ...]:
    """The pins of its relays."""
    return feed.circuit.relays if isinstance(feed.circuit, Line) else (feed.circuit.relay,)


def _inputs_of_relays(feed: Feed) -> Iterator[Wire]:
    pins = relays_of(feed)
    for name, pin in zip(relay_names(feed.name, len(pins)), pins, strict=True):
        active = feed.circuit.active
        says = f"active {active}, on {RELAY_BOARDS[active]}"
        yield Wire(gpio(pin), Terminal(name, "IN"), feed.name, "logic", says=says)


def _switched(feed: Feed) -> Iterator[Wire]:
    """Bells, or a line that always has the same polarity: one make contact."""
    (relay,) = relay_names(feed.name, 1)
    rail = BELLS if feed.device == "bell" else PLUS
    out = Terminal(f"X {feed.name}", pair_marks(alternating=False)[0])
    yield from _fused(feed, rail, Terminal(relay, "C"))
    yield from _through_resistor(feed, Terminal(relay, "NO"), out)
    yield _into_building(feed, out, Terminal(f"P {feed.name}", "+"), 0)
    yield from _back(feed)


def _alternating(feed: Feed) -> Iterator[Wire]:
    """Two change-over contacts: closed to + one at a time, at rest both on 0 V."""
    plus, minus = relay_names(feed.name, 2)
    pair, dials = f"X {feed.name}", f"P {feed.name}"
    yield from _fused(feed, PLUS, Terminal(plus, "NO"))
    yield _inside(feed, Terminal(plus, "NO"), Terminal(minus, "NO"))
    for relay in (plus, minus):
        yield _inside(feed, Terminal(relay, "NC"), Terminal(ZERO, ""))
    yield from _through_resistor(feed, Terminal(plus, "C"), Terminal(pair, "a"))
    yield _inside(feed, Terminal(minus, "C"), Terminal(pair, "b"))
    for number, mark in enumerate(pair_marks(alternating=True)):
        yield _into_building(feed, Terminal(pair, mark), Terminal(dials, mark), number)


def _fused(feed: Feed, rail: str, to: Terminal) -> Iterator[Wire]:
    fuse = f"F {feed.name}"
    yield Wire(Terminal(rail, ""), Terminal(fuse, "1"), feed.name, "power", MAIN_FUSE)
    yield _inside(feed, Terminal(fuse, "2"), to)


def _through_resistor(feed: Feed, start: Terminal, end: Terminal) -> Iterator[Wire]:
    """A line in series has its resistor at the relay."""
    if not feed.in_series:
        yield _inside(feed, start, end)
        return
    resistor = f"R {feed.name}"
    yield _inside(feed, start, Terminal(resistor, "1"))
    yield _inside(feed, Terminal(resistor, "2"), end)


def _back(feed: Feed) -> Iterator[Wire]:
    """From the last bell or dial to 0 V, or to where the shared return begins."""
    end, shared = Terminal(f"P {feed.name}", "0"), feed.circuit.shares_return
    if shared is not None:  # its length is not told: what is counted is the return's own
        joint = Terminal(f"J returns.{shared}", "")
        own = _into_building(feed, end, joint, 1)
        yield own._replace(conductor=None, metres=None, says="where the return begins")
        return
    back = Terminal(f"X {feed.name}", pair_marks(alternating=False)[1])
    yield _into_building(feed, end, back, 1)
    yield _inside(feed, back, Terminal(ZERO, ""))


def _inside(feed: Feed, start: Terminal, end: Terminal, kind: Kind = "power") -> Wire:
    return Wire(start, end, feed.name, kind, f"F {feed.name}")


def _into_building(feed: Feed, start: Terminal, end: Terminal, place: int) -> Wire:
    """One of the two wires of its run."""
    circuit, colours = feed.circuit, feed.circuit.colours or ()
    return _inside(feed, start, end, "building")._replace(
        conductor=circuit.wire,
        metres=circuit.run_metres,
        colour=colours[place] if place < len(colours) else "",
    )


def _suppressor(feed: Feed, fitted: Placed) -> Iterator[Wire]:
    """The leads of what takes the coils' kick. A diode's stripe, its cathode, is K."""
    part = f"S {feed.name}"
    marks, says = ("1", "2"), ""
    match fitted.where:
        case "line":
            commons = relay_names(feed.name, 2)
            ends = tuple(Terminal(name, "C") for name in commons)
        case "contact":
            (relay,) = relay_names(feed.name, 1)
            ends = Terminal(relay, "C"), Terminal(relay, "NO")
        case "interrupter":
            bells = f"P {feed.name}"
            ends = Terminal(bells, "interrupter 1"), Terminal(bells, "interrupter 2")
            says = "one in each bell"
        case "load":
            shared = feed.circuit.shares_return is not None
            out, back = (Terminal(f"X {feed.name}", mark) for mark in ("out", "back"))
            ends = out, Terminal(ZERO, "") if shared else back
            if fitted.kind == "diode":
                marks, says = ("K", "A"), "K is the stripe, at +"
            elif fitted.kind == "zener":
                says = "1, at +, is the diode's stripe"
    for mark, end in zip(marks, ends, strict=True):
        yield Wire(Terminal(part, mark), end, feed.name, "lead", f"F {feed.name}", says=says)
