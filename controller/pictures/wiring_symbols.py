"""Symbols that schemdraw lacks, and groups of them that every wiring drawing has."""

from __future__ import annotations

from collections.abc import Sequence

from controller.building.terminals import Terminal, Wire, joined_to, shown
from controller.pictures.schematic import Point, Schematic


def end_of(wires: Sequence[Wire], part: str, mark: str, beside: Sequence[str] = ()) -> str:
    """The one terminal that `part:mark` is wired to, apart from the parts in `beside`."""
    (other,) = [
        end for end in joined_to(wires, Terminal(part, mark)) if end.part not in beside
    ]  # fmt: skip
    return shown(other)


def fuse(drawing: Schematic, name: str, rating: str, start: Point, end: Point) -> None:
    """A fuse in a level wire from left to right, its name above and its rating below."""
    from schemdraw import elements as e

    drawing.between(e.FuseIEEE(), start, end)
    middle = (start[0] + end[0]) / 2
    drawing.words(middle, start[1] + 0.52, name, "middle", room=3.4)
    drawing.words(middle, start[1] - 0.5, rating, "middle", size=9.0)
    drawing.mark(middle - 0.75, start[1] + 0.18, "1")
    drawing.mark(middle + 0.75, start[1] + 0.18, "2")


def upright_fuse(
    drawing: Schematic, name: str, rating: str, start: Point, end: Point, marks: str
) -> None:
    """A fuse in a wire that goes down, its name and rating to the right; its marks, "1 2" or "2 1",
    from above to below."""
    from schemdraw import elements as e

    drawing.between(e.FuseIEEE(), start, end)
    middle = (start[1] + end[1]) / 2
    upper, _, lower = marks.partition(" ")
    drawing.words(start[0] + 0.4, middle + 0.2, name)
    drawing.words(start[0] + 0.4, middle - 0.2, rating, size=9.0)
    drawing.mark(start[0] - 0.15, middle + 0.65, upper, "end")
    drawing.mark(start[0] - 0.15, middle - 0.65, lower, "end")


def coil(
    drawing: Schematic, wires: Sequence[Wire], name: str, at: Point, named_at: float, says: str
) -> None:
    """A relay's coil as its board has it, with its input to the left; the name stands at the height
    `named_at`. `says` is how it is energised."""
    x, y = at
    drawing.box(x - 0.5, y - 0.3, x + 0.5, y + 0.3, dashed=False)
    drawing.wire((x - 0.5, y), (x - 1.2, y))
    drawing.end(x - 1.2, y, end_of(wires, name, "IN"))
    drawing.mark(x - 0.6, y + 0.2, "IN", "end")
    drawing.words(x, named_at, name, "middle", bold=True, room=2.9)
    if says:
        drawing.words(x + 0.6, y, says, size=8.0, pale=True)


def make_contact(drawing: Schematic, start: Point, end: Point) -> None:
    """A level contact that is open at rest: C to the left, NO to the right."""
    from schemdraw import elements as e

    drawing.between(e.Switch(), start, end)
    middle = (start[0] + end[0]) / 2
    drawing.mark(middle - 0.55, start[1] - 0.3, "C")
    drawing.mark(middle + 0.55, start[1] - 0.3, "NO")


def upright_make_contact(drawing: Schematic, start: Point, end: Point, marks: str) -> None:
    """The same in a wire that goes down; its marks are "C NO" or "15 18", to the left."""
    from schemdraw import elements as e

    drawing.between(e.Switch(), start, end)
    middle = (start[1] + end[1]) / 2
    upper, _, lower = marks.partition(" ")
    drawing.mark(start[0] - 0.25, middle + 0.5, upper, "end")
    drawing.mark(start[0] - 0.25, middle - 0.5, lower, "end")


def change_over(drawing: Schematic, at: Point) -> None:
    """A change-over contact at rest: its common C right at `at`, NO and NC 1.8 to the left, half a
    unit above and below."""
    x, y = at
    left = x - 1.8
    for there in ((x, y), (left, y + 0.5), (left, y - 0.5)):
        drawing.terminal(*there)
    drawing.wire((x - 0.09, y), (left + 0.08, y - 0.42))
    drawing.mark(left - 0.05, y + 0.75, "NO")
    drawing.mark(left - 0.05, y - 0.78, "NC")
    drawing.mark(x + 0.05, y + 0.28, "C")


def varistor(drawing: Schematic, start: Point, end: Point) -> None:
    """A resistor that a voltage changes: a box with a line across it."""
    from schemdraw import elements as e

    drawing.between(e.ResistorIEC(), start, end)
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    drawing.wire((x - 0.45, y - 0.62), (x - 0.45, y - 0.45), (x + 0.45, y + 0.45))


def suppressor(drawing: Schematic, kind: str, top: Point, bottom: Point) -> None:
    """Between an upper point and a lower one; a diode's stripe, its cathode, is above."""
    from schemdraw import elements as e

    middle = top[0], (top[1] + bottom[1]) / 2
    match kind:
        case "diode":
            drawing.between(e.Diode(fill=True), bottom, top)
        case "zener":  # the diode blocks while + is above; the kick goes up through both
            drawing.between(e.Diode(fill=True), middle, top)
            drawing.between(e.Zener(fill=True), middle, bottom)
        case "bidirectional":
            drawing.between(e.DiodeTVS(), top, bottom)
        case "varistor":
            varistor(drawing, top, bottom)
        case "rc":
            drawing.between(e.ResistorIEC(), top, middle)
            drawing.between(e.Capacitor(), middle, bottom)


def isolated_input(drawing: Schematic, wires: Sequence[Wire], name: str, at: Point) -> None:
    """An isolated input as a box; `at` is its upper left terminal, `in +`. Its inside is drawn on
    the drawing of inputs."""
    x, y = at
    drawing.box(x, y - 1.2, x + 2.6, y + 0.4, dashed=False)
    drawing.words(x + 1.3, y + 0.68, name, "middle", bold=True, room=3.6)
    drawing.mark(x + 0.12, y, "in +", "start")
    drawing.mark(x + 0.6, y - 1.0, "in 0", "middle")
    drawing.wire((x + 0.6, y - 1.2), (x + 0.6, y - 1.6))
    drawing.end(x + 0.6, y - 1.6, end_of(wires, name, "in 0"))
    for mark, height in (("C", y), ("E", y - 0.8)):
        drawing.mark(x + 2.48, height, mark, "end")
        drawing.wire((x + 2.6, height), (x + 3.2, height))
        drawing.end(x + 3.2, height, end_of(wires, name, mark), "start")
    drawing.words(x + 1.3, y - 0.5, "isolator", "middle", size=8.0, pale=True)


def bell(drawing: Schematic, top: Point, bottom: Point, *, trembler: bool) -> None:
    """A bell's coil; of a trembler also its interrupter, which opens as the coil pulls."""
    from schemdraw import elements as e

    (x, high), (_, low) = top, bottom
    if not trembler:
        drawing.between(e.Inductor2(loops=3), top, bottom)
        return
    middle = (high + low) / 2 + 0.2
    drawing.between(e.Inductor2(loops=3), top, (x, middle))
    drawing.between(e.Switch(nc=True), (x, middle), bottom)


def dials(drawing: Schematic, top: Point, bottom: Point) -> None:
    """Dials on a pair: one face for all."""
    from schemdraw import elements as e

    (x, high), (_, low) = top, bottom
    middle = (high + low) / 2
    drawing.wire(top, (x, middle + 0.6))
    drawing.wire((x, middle - 0.6), bottom)
    drawing.add(e.Dot(open=True, radius=0.6).at((x, middle)).zorder(0))
    drawing.wire((x, middle), (x, middle + 0.42))
    drawing.wire((x, middle), (x + 0.26, middle + 0.12))


def lamp(drawing: Schematic, at: Point) -> None:
    """A lamp: a circle of 0.45 with a cross."""
    from schemdraw import elements as e

    (x, y), across = at, 0.32  # 0.45 / √2
    drawing.add(e.Dot(open=True, radius=0.45).at(at).zorder(0))
    drawing.wire((x - across, y - across), (x + across, y + across))
    drawing.wire((x - across, y + across), (x + across, y - across))
