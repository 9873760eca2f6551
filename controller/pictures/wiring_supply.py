"""The supply with the bells' feed, and the controller with its relay boards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from controller.building import terminals as t
from controller.building.terminals import Terminal, Wire, joined_to
from controller.pictures.schematic import Schematic
from controller.pictures.wiring_symbols import (
    coil,
    end_of,
    fuse,
    lamp,
    upright_fuse,
    upright_make_contact,
)

_PLUS, _ZERO = 8.0, 0.0  # heights of the rows X+ and X0


class SupplyDrawn(NamedTuple):
    """What stands in both drawings, in words, beside their wires."""

    volts: str  # "24 V"
    supply: str  # "24 V, 3 A"
    battery: str  # "12 cells, 26 Ah"; "" where there is none
    health: str  # how the health relay is energised, "active high"; "" where there is none
    fuses: Mapping[str, str]  # "F MAIN" → "4 A"


def supply_drawing(supply: SupplyDrawn, wires: Sequence[Wire]) -> str:
    """Supply, battery and the feed of the bells, as SVG; `wires` is the whole terminal list."""
    drawing = Schematic("Supply and the bells' feed", "The supply's wires, all relays at rest.")
    drawing.words(0.0, 9.3, "Supply and the bells' feed", bold=True, size=12.0)
    right = 19.3 if supply.health else 8.4
    drawing.rail((0.0, _PLUS), (right, _PLUS))
    drawing.rail((0.0, _ZERO), (right, _ZERO))
    drawing.words(-0.2, _PLUS, f"{t.PLUS}  {supply.volts}", "end", bold=True)
    drawing.words(-0.2, _ZERO, f"{t.ZERO}  0 V", "end", bold=True)
    _source(drawing, supply, wires)
    if supply.battery:
        _battery(drawing, supply, wires)
    if supply.health:
        _feed(drawing, supply, wires)
    else:
        _on_row(drawing, wires, t.BELLS, 7.4)
        drawing.wire((7.4, _PLUS - 0.09), (7.4, 6.0))
        (row,) = _rows(wires, t.BELLS, t.PLUS)
        drawing.end(7.4, 6.0, f"{row}, to the bells' fuses", "start")
    return drawing.svg()


def _rows(wires: Sequence[Wire], part: str, other: str) -> list[Terminal]:
    """The terminals of a row that are wired to one of another row, or to a part."""
    found = []
    for wire in wires:
        for one, there in ((wire.start, wire.end), (wire.end, wire.start)):
            if one.part == part and there.part == other:
                found.append(one)
    return found


def _on_row(drawing: Schematic, wires: Sequence[Wire], part: str, x: float) -> None:
    """Where a wire from X+ to a part leaves the row: its number there."""
    drawing.terminal(x, _PLUS)
    numbers = ", ".join(str(one) for one in _rows(wires, t.PLUS, part))
    drawing.mark(x, _PLUS + 0.35, numbers)


def _down_to_zero(
    drawing: Schematic, wires: Sequence[Wire], part: str, mark: str, x: float, high: float
) -> None:
    """From a part's terminal down to X0, with the number there."""
    drawing.wire((x, high), (x, _ZERO + 0.09))
    drawing.terminal(x, _ZERO)
    drawing.mark(x, _ZERO - 0.35, end_of(wires, part, mark, (t.FEED_SUPPRESSOR,)))


def _source(drawing: Schematic, supply: SupplyDrawn, wires: Sequence[Wire]) -> None:
    _on_row(drawing, wires, t.MAIN_FUSE, 1.6)
    rating = supply.fuses[t.MAIN_FUSE]
    drawing.wire((1.6, _PLUS - 0.09), (1.6, 7.2))
    upright_fuse(drawing, t.MAIN_FUSE, rating, (1.6, 7.2), (1.6, 4.9), "2 1")
    drawing.wire((1.6, 4.9), (1.6, 4.4))
    drawing.box(0.6, 2.6, 2.6, 4.4, dashed=False)
    drawing.words(1.6, 3.75, t.SUPPLY, "middle", bold=True)
    drawing.words(1.6, 3.4, supply.supply, "middle", size=9.0, room=1.9)
    drawing.words(0.3, 3.7, "mains:", "end", size=8.0, pale=True)
    drawing.words(0.3, 3.35, "by an electrician", "end", size=8.0, pale=True)
    drawing.mark(1.75, 4.15, "+", "start")
    drawing.mark(1.75, 2.85, "0", "start")
    _down_to_zero(drawing, wires, t.SUPPLY, "0", 1.6, 2.6)


def _battery(drawing: Schematic, supply: SupplyDrawn, wires: Sequence[Wire]) -> None:
    from schemdraw import elements as e

    x = 3.9
    _on_row(drawing, wires, t.BATTERY_FUSE, x)
    rating = supply.fuses[t.BATTERY_FUSE]
    drawing.wire((x, _PLUS - 0.09), (x, 7.2))
    upright_fuse(drawing, t.BATTERY_FUSE, rating, (x, 7.2), (x, 4.9), "2 1")
    drawing.words(x + 0.4, 5.45, "at the battery", size=8.0, pale=True)
    drawing.between(e.Battery(), (x, 2.4), (x, 4.9))
    drawing.words(x + 0.6, 3.85, t.BATTERY, bold=True)
    drawing.words(x + 0.6, 3.45, supply.battery, size=8.0)
    drawing.mark(x - 0.2, 4.2, "+", "end")
    drawing.mark(x - 0.2, 3.0, "-", "end")
    _down_to_zero(drawing, wires, t.BATTERY, "-", x, 2.4)


def _feed(drawing: Schematic, supply: SupplyDrawn, wires: Sequence[Wire]) -> None:
    """Health relay → timer with release delay → feed relay → the bells' row."""
    x, timed, fed = 9.6, 14.9, 18.3
    _on_row(drawing, wires, t.HEALTH_FUSE, x)
    drawing.wire((x, _PLUS - 0.09), (x, 7.9))
    rating = supply.fuses[t.HEALTH_FUSE]
    upright_fuse(drawing, t.HEALTH_FUSE, rating, (x, 7.9), (x, 6.3), "1 2")
    drawing.dot(x, 6.2)
    drawing.wire((x, 6.3), (x, 6.0))
    upright_make_contact(drawing, (x, 6.0), (x, 3.9), "C NO")
    coil(drawing, wires, t.HEALTH_RELAY, (x - 1.6, 5.0), 5.6, "")
    drawing.link((x - 1.1, 5.0), (x + 0.15, 5.0))
    drawing.words(x - 1.6, 4.5, supply.health, "middle", size=8.0, pale=True)
    drawing.wire((x, 3.9), (x, 2.9))
    drawing.dot(x, 3.5)
    _upright_box(drawing, x, 2.9, t.FEED_TIMER, ("release delay,", "say 60 s"))
    _down_to_zero(drawing, wires, t.FEED_TIMER, "A2", x, 1.9)
    _lamp(drawing, wires, x, 11.5)
    drawing.wire((x, 6.2), (timed, 6.2), (timed, 6.0))
    upright_make_contact(drawing, (timed, 6.0), (timed, 3.9), "15 18")
    drawing.words(timed + 0.6, 4.95, t.FEED_TIMER, bold=True)
    drawing.wire((timed, 3.9), (timed, 2.9))
    _upright_box(drawing, timed, 2.9, t.FEED_RELAY, ("its coil",))
    _down_to_zero(drawing, wires, t.FEED_RELAY, "A2", timed, 1.9)
    _coil_diode(drawing, timed)
    _on_row(drawing, wires, t.FEED_RELAY, fed)
    drawing.wire((fed, _PLUS - 0.09), (fed, 6.4))
    upright_make_contact(drawing, (fed, 6.4), (fed, 4.3), "C NO")
    drawing.words(fed + 0.6, 5.35, t.FEED_RELAY, bold=True)
    (row,) = _rows(wires, t.BELLS, t.FEED_RELAY)
    drawing.terminal(fed, 4.2)
    drawing.words(fed, 3.8, str(row), "middle")
    drawing.words(fed, 3.45, "to the bells' fuses", "middle", size=8.0, pale=True)


def _upright_box(drawing: Schematic, x: float, top: float, name: str, says: Sequence[str]) -> None:
    """A coil in a wire that goes down: A1 above, A2 below."""
    drawing.box(x - 0.5, top - 1.0, x + 0.5, top, dashed=False)
    drawing.mark(x + 0.1, top + 0.2, "A1", "start")
    drawing.mark(x + 0.1, top - 1.2, "A2", "start")
    drawing.words(x - 0.65, top - 0.2, name, "end", bold=True)
    for number, line in enumerate(says, 1):
        drawing.words(x - 0.65, top - 0.2 - 0.34 * number, line, "end", size=8.0, pale=True)


def _lamp(drawing: Schematic, wires: Sequence[Wire], start: float, x: float) -> None:
    drawing.wire((start, 3.5), (x, 3.5), (x, 2.85))
    lamp(drawing, (x, 2.4))
    drawing.wire((x, 1.95), (x, 1.6))
    drawing.words(x + 0.3, 1.35, t.HEALTH_LAMP, bold=True)
    drawing.words(x + 0.3, 1.0, "dark: not well", size=8.0, pale=True)
    drawing.mark(x - 0.15, 3.05, "1", "end")
    drawing.mark(x - 0.15, 1.75, "2", "end")
    _down_to_zero(drawing, wires, t.HEALTH_LAMP, "2", x, 1.6)


def _coil_diode(drawing: Schematic, x: float) -> None:
    from schemdraw import elements as e

    drawing.dot(x, 3.4)
    drawing.dot(x, 1.4)
    drawing.wire((x, 3.4), (x + 1.2, 3.4))
    drawing.wire((x, 1.4), (x + 1.2, 1.4))
    drawing.between(e.Diode(fill=True), (x + 1.2, 1.4), (x + 1.2, 3.4))
    drawing.words(x + 1.5, 2.4, t.FEED_SUPPRESSOR, bold=True, size=9.0)
    drawing.mark(x + 1.35, 3.0, "K", "start")
    drawing.mark(x + 1.35, 1.8, "A", "start")


# ── the controller ───────────────────────────────────────────────────────────────────────────────


def controller_drawing(supply: SupplyDrawn, wires: Sequence[Wire]) -> str:
    """The Pi and the relay boards, and what feeds them, as SVG."""
    drawing = Schematic("Controller and relay boards", "What feeds the Pi and its relay boards.")
    boards = [
        board
        for board in t.RELAY_BOARDS.values()
        if joined_to(wires, Terminal(board, "coil +"))
    ]  # fmt: skip
    drawing.words(-0.8, 8.4, "Controller and relay boards", bold=True, size=12.0)
    drawing.end(0.0, 6.5, end_of(wires, t.CONVERTER_FUSE, "1"))
    _level_fuse(drawing, supply)
    drawing.box(4.2, 5.2, 7.4, 7.1, dashed=False)
    drawing.words(5.8, 7.4, f"{t.CONVERTER}, isolated converter", "middle", bold=True)
    drawing.mark(4.3, 6.5, "in +", "start")
    drawing.mark(4.3, 5.6, "in 0", "start")
    drawing.wire((4.2, 5.6), (0.09, 5.6))
    drawing.end(0.0, 5.6, end_of(wires, t.CONVERTER, "in 0"))
    drawing.mark(7.3, 6.5, "5 V +", "end")
    drawing.mark(7.3, 5.6, "5 V 0", "end")
    low = 5.6 - 2.4 * len(boards)
    drawing.wire((7.4, 6.5), (9.0, 6.5), (9.0, low + 0.9))
    drawing.wire((7.4, 5.6), (8.5, 5.6), (8.5, low))
    _pi(drawing, wires)
    for number, board in enumerate(boards, 1):
        _relay_board(drawing, wires, board, 5.6 - 2.4 * number, last=number == len(boards))
    return drawing.svg()


def _level_fuse(drawing: Schematic, supply: SupplyDrawn) -> None:
    rating = supply.fuses[t.CONVERTER_FUSE]
    fuse(drawing, t.CONVERTER_FUSE, rating, (0.09, 6.5), (3.2, 6.5))
    drawing.wire((3.2, 6.5), (4.2, 6.5))


def _pi(drawing: Schematic, wires: Sequence[Wire]) -> None:
    drawing.box(10.6, 5.2, 13.6, 7.1, dashed=False)
    drawing.words(12.1, 7.4, t.BOARD, "middle", bold=True)
    drawing.dot(9.0, 6.5)
    drawing.wire((9.0, 6.5), (10.6, 6.5))
    drawing.dot(8.5, 5.6)
    drawing.wire((8.5, 5.6), (10.6, 5.6))
    drawing.mark(10.7, 6.5, "power +", "start")
    drawing.mark(10.7, 5.6, "power 0", "start")
    for row, high in ((t.V3, 6.5), (t.GROUND, 5.6)):
        ((pin, at),) = [
            (wire.start, wire.end) for wire in wires
            if wire.start.part == t.BOARD and wire.end.part == row
        ]  # fmt: skip
        drawing.mark(13.5, high, t.shown(pin).removeprefix(f"{t.BOARD}:"), "end")
        drawing.wire((13.6, high), (14.4, high))
        drawing.end(14.4, high, str(at), "start")


def _relay_board(
    drawing: Schematic, wires: Sequence[Wire], board: str, low: float, *, last: bool
) -> None:
    drawing.box(10.6, low - 0.4, 13.6, low + 1.3, dashed=False)
    drawing.words(12.1, low + 1.6, f"{board}, relay board", "middle", bold=True)
    for x, high, mark in ((9.0, low + 0.9, "coil +"), (8.5, low, "coil 0")):
        if not last:
            drawing.dot(x, high)
        drawing.wire((x, high), (10.6, high))
        drawing.mark(10.7, high, mark, "start")
    mark = "ground" if joined_to(wires, Terminal(board, "ground")) else "inputs +"
    drawing.mark(13.5, low + 0.9, mark, "end")
    drawing.wire((13.6, low + 0.9), (14.4, low + 0.9))
    drawing.end(14.4, low + 0.9, end_of(wires, board, mark), "start")
