"""One zone, one single line, one alternating line: from the rail into the building and back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from controller.building.terminals import (
    Terminal,
    Wire,
    input_names,
    joined_to,
    relay_names,
)
from controller.pictures.schematic import Schematic
from controller.pictures.wiring_symbols import (
    bell,
    change_over,
    coil,
    dials,
    end_of,
    fuse,
    isolated_input,
    make_contact,
    suppressor,
    varistor,
)

_BORDER = 12.6  # between cabinet and building
_DEVICES = 16.4


class CircuitDrawn(NamedTuple):
    """What stands in the drawing of a circuit, in words, beside its wires."""

    name: str  # "zones.north"
    title: str
    load: Literal["alternating", "single", "single-stroke", "trembler"]
    devices: str  # "6 bells in parallel"
    fuse: str  # "2 A"
    energised: str  # "active high"
    suppressor: str  # its kind: "rc", "diode", …
    suppressor_says: tuple[str, ...]  # its values, a line each
    where: Literal["line", "contact", "load", "interrupter"]
    resistor: str  # "72 Ω"; "" where there is none
    run: str  # "50 m of 1.5 mm²"
    colours: tuple[str, str]  # of the run's two wires
    sensed: bool


def circuit_drawing(circuit: CircuitDrawn, wires: Sequence[Wire]) -> str:
    """The drawing as SVG; `wires` is the whole terminal list."""
    title = f"{circuit.name}, {circuit.title}" if circuit.title else circuit.name
    drawing = Schematic(title, f"How {circuit.name} is wired, all relays at rest.")
    if circuit.load == "alternating":
        _alternating(drawing, circuit, wires)
        top = 11.9 if circuit.sensed else 10.3
    else:
        _switched(drawing, circuit, wires)
        top = 9.9 if circuit.where == "contact" else 7.9
    drawing.words(-0.8, top, title, bold=True, size=12.0)
    return drawing.svg()


def _border(drawing: Schematic, bottom: float, top: float) -> None:
    drawing.link((_BORDER, bottom), (_BORDER, top))
    drawing.words(_BORDER - 0.2, top - 0.15, "cabinet", "end", size=8.0, pale=True)
    drawing.words(_BORDER + 0.2, top - 0.15, "building", size=8.0, pale=True)


# ── a zone, a single line ────────────────────────────────────────────────────────────────────────


def _switched(drawing: Schematic, circuit: CircuitDrawn, wires: Sequence[Wire]) -> None:
    (relay,) = relay_names(circuit.name, 1)
    pair = f"X {circuit.name}"
    drawing.end(0.0, 6.0, end_of(wires, f"F {circuit.name}", "1"))
    fuse(drawing, f"F {circuit.name}", circuit.fuse, (0.09, 6.0), (3.6, 6.0))
    drawing.wire((3.6, 6.0), (4.2, 6.0))
    make_contact(drawing, (4.2, 6.0), (7.4, 6.0))
    coil(drawing, wires, relay, (5.8, 4.4), 3.8, circuit.energised)
    drawing.link((5.8, 4.7), (5.8, 6.2))
    _resistor(drawing, circuit, (7.4, 6.0), (9.6, 6.0))
    drawing.wire((9.6, 6.0), (10.51, 6.0))
    drawing.terminal(10.6, 6.0)
    drawing.words(10.6, 6.35, f"{pair}:out", "middle", room=3.6)
    drawing.wire((10.69, 6.0), (_DEVICES, 6.0))
    _devices(drawing, circuit, 6.0, 2.6, ("+", "0"))
    _back(drawing, circuit, wires)
    if circuit.where == "contact":
        _over_contact(drawing, circuit)
    if circuit.sensed:
        drawing.dot(7.8, 6.0)
        drawing.wire((7.8, 6.0), (7.8, 0.9), (8.3, 0.9))
        isolated_input(drawing, wires, input_names(circuit.name, 1)[0], (8.3, 0.9))
    _border(drawing, 1.9, 7.2)


def _resistor(
    drawing: Schematic, circuit: CircuitDrawn, start: tuple[float, float], end: tuple[float, float]
) -> None:
    """A plain wire, or the resistor of a line in series."""
    from schemdraw import elements as e

    if not circuit.resistor:
        drawing.wire(start, end)
        return
    drawing.between(e.ResistorIEC(), start, end)
    middle = (start[0] + end[0]) / 2
    drawing.words(middle, start[1] + 1.0, f"R {circuit.name}", "middle", room=3.6)
    drawing.words(middle, start[1] + 0.62, circuit.resistor, "middle", size=9.0)
    drawing.mark(middle - 0.68, start[1] + 0.2, "1")
    drawing.mark(middle + 0.68, start[1] - 0.22, "2")


def _back(drawing: Schematic, circuit: CircuitDrawn, wires: Sequence[Wire]) -> None:
    """The way back to 0 V: of its own, or to the joint of a shared return. With a load's diode."""
    devices, pair = f"P {circuit.name}", f"X {circuit.name}"
    (joint,) = joined_to(wires, Terminal(devices, "0"))
    shared = joint.part != pair
    if shared:
        drawing.wire((_DEVICES, 2.6), (13.4, 2.6))
        drawing.terminal(13.4, 2.6)
        drawing.words(13.3, 2.25, str(joint), room=4.5)
        drawing.words(13.3, 1.9, "and back by the return", size=8.0, pale=True)
    else:
        drawing.wire((_DEVICES, 2.6), (10.69, 2.6))
        drawing.terminal(10.6, 2.6)
        drawing.words(10.6, 2.25, f"{pair}:back", "middle", room=3.6)
        drawing.wire((10.51, 2.6), (0.09, 2.6))
        drawing.end(0.0, 2.6, end_of(wires, pair, "back", (devices, f"S {circuit.name}")))
    if circuit.where != "load":
        return
    drawing.dot(11.9, 6.0)
    low = 3.5 if shared else 2.6
    suppressor(drawing, circuit.suppressor, (11.9, 6.0), (11.9, low))
    if shared:
        mark = "A" if circuit.suppressor == "diode" else "2"
        drawing.end(11.9, low, end_of(wires, f"S {circuit.name}", mark))
    else:
        drawing.dot(11.9, 2.6)
    _said(drawing, circuit, 11.45, 4.75, "end")
    marks = ("K", "A") if circuit.suppressor == "diode" else ("1", "2")
    for mark, height in zip(marks, (5.6, low + 0.35), strict=True):
        drawing.mark(12.2, height, mark, "start")


def _over_contact(drawing: Schematic, circuit: CircuitDrawn) -> None:
    from schemdraw import elements as e

    for x in (4.2, 7.4):
        drawing.dot(x, 6.0)
        drawing.wire((x, 6.0), (x, 7.3))
    drawing.between(e.ResistorIEC(), (4.2, 7.3), (5.8, 7.3))
    drawing.between(e.Capacitor(), (5.8, 7.3), (7.4, 7.3))
    drawing.mark(4.35, 7.5, "1")
    drawing.mark(7.25, 7.5, "2")
    _said(drawing, circuit, 5.8, 8.0 + 0.36 * len(circuit.suppressor_says), "middle")


def _said(
    drawing: Schematic,
    circuit: CircuitDrawn,
    x: float,
    y: float,
    anchor: Literal["start", "middle", "end"],
) -> None:
    """A suppressor's name, and under it what it is."""
    drawing.words(x, y, f"S {circuit.name}", anchor, room=3.6)
    for number, line in enumerate(circuit.suppressor_says, 1):
        drawing.words(x, y - 0.36 * number, line, anchor, size=8.0, pale=True)


# ── an alternating line ──────────────────────────────────────────────────────────────────────────


def _alternating(drawing: Schematic, circuit: CircuitDrawn, wires: Sequence[Wire]) -> None:
    """The change-over form: + comes to both relays' NO, 0 V to both NC."""
    plus, minus = relay_names(circuit.name, 2)
    pair = f"X {circuit.name}"
    drawing.end(-0.8, 7.5, end_of(wires, f"F {circuit.name}", "1"))
    fuse(drawing, f"F {circuit.name}", circuit.fuse, (-0.71, 7.5), (1.6, 7.5))
    drawing.wire((1.6, 7.5), (5.31, 7.5))
    drawing.dot(1.9, 7.5)
    drawing.wire((1.9, 7.5), (1.9, 3.5), (5.31, 3.5))
    for relay, high in ((plus, 7.0), (minus, 3.0)):
        change_over(drawing, (7.2, high))
        drawing.wire((5.31, high - 0.5), (-0.71, high - 0.5))
        drawing.end(-0.8, high - 0.5, end_of(wires, relay, "NC"))
        coil(drawing, wires, relay, (5.8, high + 1.7), high + 2.3, circuit.energised)
        drawing.link((5.8, high + 1.4), (5.8, high - 0.36))
    _resistor(drawing, circuit, (8.3, 7.0), (10.5, 7.0))
    drawing.wire((7.29, 7.0), (8.3, 7.0))
    drawing.wire((7.29, 3.0), (10.61, 3.0))
    drawing.wire((10.5, 7.0), (10.61, 7.0))
    for mark, high in (("a", 7.0), ("b", 3.0)):
        drawing.terminal(10.7, high)
        drawing.words(10.4, high + 0.35, f"{pair}:{mark}", room=2.2)
        drawing.wire((10.79, high), (_DEVICES, high))
    drawing.dot(8.3, 7.0)
    drawing.dot(8.3, 3.0)
    suppressor(drawing, circuit.suppressor, (8.3, 7.0), (8.3, 3.0))
    drawing.mark(8.15, 6.6, "1", "end")
    drawing.mark(8.15, 3.4, "2", "end")
    _said(drawing, circuit, 8.75, 5.2, "start")
    _devices(drawing, circuit, 7.0, 3.0, ("a", "b"))
    drawing.words(-0.8, 5.3, "At rest both relays join", size=8.0, pale=True)
    drawing.words(-0.8, 4.95, "both wires to 0 V.", size=8.0, pale=True)
    if circuit.sensed:
        for name, high, box in zip(
            input_names(circuit.name, 2), (7.0, 3.0), (10.6, 0.8), strict=True
        ):
            drawing.dot(7.85, high)
            drawing.wire((7.85, high), (7.85, box), (8.9, box))
            isolated_input(drawing, wires, name, (8.9, box))
    _border(drawing, 2.1, 8.1)


# ── what hangs on it ─────────────────────────────────────────────────────────────────────────────


def _devices(
    drawing: Schematic, circuit: CircuitDrawn, high: float, low: float, marks: tuple[str, str]
) -> None:
    x, out, back = _DEVICES, circuit.colours[0], circuit.colours[1]
    drawing.terminal(x, high)
    drawing.terminal(x, low)
    drawing.mark(x + 0.2, high, marks[0], "start")
    drawing.mark(x + 0.2, low, marks[1], "start")
    drawing.words(14.55, high + 0.3, circuit.run, "middle", size=8.0)
    if out:
        drawing.words(14.55, high - 0.28, out, "middle", size=8.0, pale=True)
    if back:
        drawing.words(14.55, low - 0.28, back, "middle", size=8.0, pale=True)
    top, bottom = (x, high - 0.09), (x, low + 0.09)
    beside = 0.5
    if circuit.load in ("alternating", "single"):
        dials(drawing, top, bottom)
        beside = 0.8
    else:
        bell(drawing, top, bottom, trembler=circuit.load == "trembler")
    if circuit.where == "interrupter":
        _over_interrupter(drawing, circuit, (high + low) / 2 + 0.2, low)
        beside = 2.4
    middle = (high + low) / 2
    drawing.words(x + beside, middle + 0.2, f"P {circuit.name}", room=4.0)
    drawing.words(x + beside, middle - 0.2, circuit.devices, size=9.0)


def _over_interrupter(drawing: Schematic, circuit: CircuitDrawn, high: float, low: float) -> None:
    x = _DEVICES
    drawing.dot(x, high)
    drawing.dot(x, low + 0.25)
    drawing.wire((x, high), (x + 1.1, high))
    drawing.wire((x, low + 0.25), (x + 1.1, low + 0.25))
    ends = (x + 1.1, high), (x + 1.1, low + 0.25)
    if circuit.suppressor == "varistor":
        varistor(drawing, *ends)
    else:
        suppressor(drawing, circuit.suppressor, *ends)
    drawing.mark(x + 0.5, high + 0.2, "interrupter 1", "start")
    drawing.mark(x + 0.5, low + 0.02, "interrupter 2", "start")
    drawing.mark(x + 0.95, high - 0.2, "1", "end")
    drawing.mark(x + 0.95, low + 0.45, "2", "end")
    _said(drawing, circuit, x + 2.4, high - 1.0, "start")


# ── a shared return ──────────────────────────────────────────────────────────────────────────────


def return_drawing(name: str, run: str, wires: Sequence[Wire]) -> str:
    """A return that several circuits share, as SVG; `run` is its length and conductor."""
    part, joint = f"X {name}", f"J {name}"
    drawing = Schematic(name, f"The circuits that {name} brings back.")
    joined = [wire for wire in wires if joint in (wire.start.part, wire.end.part)]
    *circuits, shared = joined
    high = 0.8 * len(circuits)
    drawing.words(-1.5, high + 1.2, name, bold=True, size=12.0)
    drawing.end(0.0, 0.0, end_of(wires, part, "back", (joint,)))
    drawing.wire((0.09, 0.0), (3.2, 0.0))
    drawing.terminal(3.2, 0.0)
    drawing.words(3.2, -0.35, f"{part}:back", "middle", room=5.0)
    drawing.wire((3.29, 0.0), (9.6, 0.0))
    drawing.link((5.9, -0.8), (5.9, high + 0.4))
    drawing.words(5.7, high + 0.25, "cabinet", "end", size=8.0, pale=True)
    drawing.words(6.1, high + 0.25, "building", size=8.0, pale=True)
    drawing.words(7.8, 0.3, run, "middle", size=8.0)
    drawing.rail((9.6, 0.0), (9.6, max(high, 0.1)))
    drawing.terminal(9.6, 0.0)
    drawing.words(9.6, -0.35, str(shared.start), "middle", room=5.0)
    for number, wire in enumerate(circuits, 1):
        y = 0.8 * number
        drawing.terminal(9.6, y)
        drawing.words(9.4, y, str(wire.end), "end", size=8.0, room=3.3)
        drawing.wire((9.69, y), (11.4, y))
        drawing.end(11.4, y, str(wire.start), "start")
    return drawing.svg()
