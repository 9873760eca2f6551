"""One input with its isolator: the old panel's button, or the 24 V itself, and the pin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from controller.building.terminals import INPUTS_FUSE, Wire
from controller.pictures.schematic import Schematic
from controller.pictures.wiring_symbols import end_of, fuse


class InputDrawn(NamedTuple):
    """What stands in the drawing of an input, in words, beside its wires."""

    name: str  # "panel.north_button", or "supply"
    title: str  # "rings north while pressed"
    coupler: str  # "U panel.north_button"
    button: str  # "P panel.north_button"; "" where it is the 24 V itself
    colours: tuple[str, str]
    resistor: str  # "3.9 kΩ, ½ W"
    pulled: str  # "pulled up in the Pi"
    fuse: str  # the rating of the panel's fuse


def input_drawing(one: InputDrawn, wires: Sequence[Wire]) -> str:
    """The drawing as SVG; `wires` is the whole terminal list."""
    title = f"{one.name}, {one.title}"
    drawing = Schematic(title, f"How the input of {one.name} is isolated.")
    drawing.words(-5.4 if one.button else 4.6, 4.7, title, bold=True, size=12.0)
    _outside(drawing, one, wires)
    _coupler(drawing, one)
    drawing.wire((7.2, 0.0), (6.4, 0.0))
    drawing.end(6.4, 0.0, end_of(wires, one.coupler, "in 0"))
    for mark, high in (("C", 2.2), ("E", 0.6)):
        drawing.wire((14.4, high), (15.2, high))
        drawing.end(15.2, high, end_of(wires, one.coupler, mark), "start")
        drawing.mark(14.55, high + 0.2, mark, "start")
    drawing.words(15.2, 1.4, one.pulled, size=8.0, pale=True)
    return drawing.svg()


def _outside(drawing: Schematic, one: InputDrawn, wires: Sequence[Wire]) -> None:
    from schemdraw import elements as e

    if not one.button:
        drawing.end(5.4, 2.6, end_of(wires, one.coupler, "in +"))
        drawing.wire((5.49, 2.6), (7.2, 2.6))
        return
    drawing.end(-4.6, 2.6, end_of(wires, INPUTS_FUSE, "1"))
    fuse(drawing, INPUTS_FUSE, one.fuse, (-4.51, 2.6), (-1.4, 2.6))
    drawing.rail((-1.3, 2.6), (0.0, 2.6))
    for x, row in ((-1.3, end_of(wires, INPUTS_FUSE, "2")), (0.0, end_of(wires, one.button, "1"))):
        drawing.terminal(x, 2.6)
        drawing.words(x, 2.95, row, "middle")
    drawing.wire((0.09, 2.6), (2.4, 2.6))
    drawing.between(e.Button(), (2.4, 2.6), (4.4, 2.6))
    drawing.wire((4.4, 2.6), (7.2, 2.6))
    drawing.words(3.4, 3.45, one.button, "middle", room=2.8)
    drawing.mark(2.7, 2.3, "1")
    drawing.mark(4.1, 2.3, "2")
    for colour, x in zip(one.colours, (1.2, 5.4), strict=True):
        if colour:
            drawing.words(x, 2.3, colour, "middle", size=8.0, pale=True)
    drawing.words(3.4, 1.75, "old panel", "middle", size=8.0, pale=True)
    drawing.link((1.9, 1.4), (1.9, 3.8))
    drawing.link((4.9, 1.4), (4.9, 3.8))


def _coupler(drawing: Schematic, one: InputDrawn) -> None:
    """Its inside: resistor, LED with a diode against it, transistor."""
    from schemdraw import elements as e

    drawing.box(7.2, -0.5, 14.4, 3.4, dashed=True)
    drawing.words(10.8, 3.7, one.coupler, "middle", bold=True)
    drawing.mark(7.3, 2.85, "in +", "start")
    drawing.mark(7.3, 0.25, "in 0", "start")
    drawing.between(e.ResistorIEC(), (7.2, 2.6), (9.6, 2.6))
    drawing.words(8.4, 2.05, one.resistor, "middle", size=9.0)
    drawing.wire((9.6, 2.6), (11.4, 2.6))
    drawing.wire((7.2, 0.0), (11.4, 0.0))
    drawing.dot(10.2, 2.6)
    drawing.dot(10.2, 0.0)
    drawing.between(e.Diode(fill=True), (10.2, 0.0), (10.2, 2.6))
    drawing.between(e.Diode(fill=True), (11.4, 2.6), (11.4, 0.0))
    drawing.mark(11.15, 0.75, "LED", "end")
    transistor = e.NpnPhoto().at((12.8, 1.3)).anchor("center").right()
    drawing.add(transistor)
    for anchor, high in ((transistor.collector, 2.2), (transistor.emitter, 0.6)):
        drawing.wire((anchor.x, anchor.y), (anchor.x, high), (14.4, high))
