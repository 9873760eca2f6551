"""The tables of the wiring sheet, from what the file says and what electrics computes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from controller.building.header import pin_says
from controller.building.terminals import BOARD, CONVERTER, Terminal, Wire, joined_to, shown
from controller.building.wiring import PanelInput, wiring_of
from controller.cli.wiring_values import current, devices_words, suppressor_words, value
from controller.electrics.feeds import feeds
from controller.electrics.figures import Figure, ToBeMeasured
from controller.electrics.fuse_list import FuseRow, input_amps
from controller.electrics.sheet import CircuitRow, ReturnRow, SupplyRow
from controller.electrics.unmeasured import unmeasured
from controller.pictures.wiring_page import Cell, Group, Table, table

if TYPE_CHECKING:
    from controller.building.model import Building


def titles(building: Building) -> dict[str, str]:
    """What people call each circuit."""
    found = {f"zones.{name}": zone.title for name, zone in building.zones.items()}
    return found | {f"lines.{name}": line.title for name, line in building.lines.items()}


# ── what it draws ────────────────────────────────────────────────────────────────────────────────


def circuits_table(building: Building, rows: Sequence[CircuitRow]) -> Table:
    """Loads, fuses, contacts, suppressors; the last column is for what is measured there."""
    named = titles(building)
    return table(
        ("circuit", "draws", "on boost", "contact makes", "suppressor", "measured A"),
        [
            (
                Cell(f"{row.circuit} {named[row.circuit]}: {devices_words(feed)}"),
                value(row.amps, "A"),
                value(row.most_amps, "A"),
                value(row.contact_makes_amps, "A"),
                suppressor_words(building, feed) + _resistor(row),
                "",
            )
            for feed, row in zip(feeds(building), rows, strict=True)
        ],
    )


def _resistor(row: CircuitRow) -> str:
    if isinstance(row.resistor, ToBeMeasured):
        return f". Its resistor: {row.resistor}"
    if not row.resistor:
        return ""
    heat = row.resistor_watts
    watts = "" if isinstance(heat, ToBeMeasured) else f", made for {2 * heat:.2g} W or more"
    return f". Its resistor: {row.resistor:.3g} Ω{watts}"


def volts_table(rows: Sequence[CircuitRow], returns: Sequence[ReturnRow]) -> Table:
    """Wire, drop, short at the far end; and what shared returns lose."""
    found: list[tuple[Cell | str, ...]] = [
        (
            row.circuit,
            value(row.run_ohms, "Ω"),
            value(row.volts, "V"),
            value(row.worst_volts, "V"),
            value(row.needed_volts, "V"),
            value(row.short_amps, "A"),
            value(row.wire_bears_amps, "A"),
        )
        for row in rows
    ]
    for one in returns:
        carries = value(one.amps, "A")
        lost = value(one.worst_lost_volts, "V")
        found.append(
            (
                f"returns.{one.name}: {', '.join(one.circuits) or 'of no circuit'}",
                value(one.ohms, "Ω"),
                carries._replace(words=f"carries {carries.words}"),
                lost._replace(words=f"loses {lost.words}"),
                "—",
                "—",
                "—",
            )
        )
    heads = "its wires", "alone, on float", "at the worst", "needs", "short there", "wire bears"
    return table(("circuit", *heads), found)


def fuses_table(fuses: Sequence[FuseRow]) -> Table:
    """Every fuse, and the blank for what was fitted."""
    return table(
        ("fuse", "rating", "", "fitted"),
        [(one.name, value(one.amps, "A"), one.whence, "") for one in fuses],
    )


def supply_rows(building: Building, row: SupplyRow, week: str, worst_at: str) -> list[
    tuple[str, Cell]
]:  # fmt: skip
    """The supply, what a week asks of it, and what a battery must hold."""
    supply, low = building.supply, row.window
    gives = Cell("to be measured: what it can give", measure=True)
    found = [
        ("Nominal", Cell(f"{supply.volts:g} V")),
        ("Gives in all", gives if supply.amps is None else Cell(f"{supply.amps:g} A")),
        (
            "Lives between",
            Cell(
                f"{low.discharged:.3g} V at a discharge's end, {low.floating:.3g} V on float, "
                f"{low.boosted:.3g} V on boost"
                if building.battery is not None
                else f"{low.floating:g} V all the time: no [battery] in the file",
                assumed=building.battery is None,
            ),
        ),
        (f"Worst second of the week {week}", _worst(row, worst_at)),
        ("Bells and dials, a day of that week", value(row.amp_hours_a_day, "Ah")),
        (
            "Largest fuse of a Class 2 circuit, where that code is yours",
            Cell(f"{row.class_2_fuse_amps:.3g} A"),
        ),
    ]
    if building.battery is None:
        return found
    return [
        *found,
        ("Always on beside them", value(row.steady_amps, "A")),
        ("Battery needed for its hours, ageing counted in", value(row.needed_amp_hours, "Ah")),
        ("The battery in the file lasts, once aged", value(row.lasts_hours, "h")),
    ]


def _worst(row: SupplyRow, at: str) -> Cell:
    worst = value(row.worst_amps, "A")
    return worst._replace(words=f"{worst.words}, first {at}") if at else worst


def measure_table(building: Building) -> Table:
    """Everything that the file does not say, once, with a blank."""
    return table(
        ("of", "what", "key in the file", "measured"),
        [(one.where, one.what, one.key, "") for one in unmeasured(building)],
    )


# ── the header ───────────────────────────────────────────────────────────────────────────────────


def header_rows(wires: Sequence[Wire]) -> tuple[tuple[str, str, str, str, str, str], ...]:
    """Row by row as the header is built: what is wired there, what the pin is, its number."""
    rows = []
    for left in range(1, 41, 2):
        right = left + 1
        beside = str(right), pin_says(right), _at(wires, right)
        rows.append((_at(wires, left), pin_says(left), str(left), *beside))
    return tuple(rows)


def _at(wires: Sequence[Wire], pin: int) -> str:
    return ", ".join(str(end) for end in joined_to(wires, Terminal(BOARD, str(pin))))


# ── the terminal list ────────────────────────────────────────────────────────────────────────────

HEADS = ("no.", "from", "to", "wire", "fuse", "colour", "carries", "done")
WIDTHS = (5, 19, 19, 19, 16, 9, 8, 5)


def group_amps(building: Building, rows: Sequence[CircuitRow]) -> dict[str, Figure]:
    """What each group's 24 V wires carry, where one figure says it."""
    found: dict[str, Figure] = {row.circuit: row.amps for row in rows}
    each = input_amps(building)
    found["panel"] = each * len(building.panel)
    return found | {f"panel.{name}": each for name in building.panel}


def wire_groups(
    building: Building,
    wires: Sequence[Wire],
    amps: Mapping[str, Figure],
    fuses: Mapping[str, str],
) -> Iterator[Group]:
    """The terminal list, group by group, numbered through."""
    named = titles(building)
    does = {f"panel.{entry.name}": does_words(entry) for entry in wiring_of(building).panel}
    headings = {"supply": "supply and its sense", "feed": "feed: the bells' supply and its relay"}
    headings["controller"] = "controller and relay boards"
    headings["panel"] = "panel: what its buttons are fed by"
    numbered = list(enumerate(wires, 1))
    for group in dict.fromkeys(wire.group for wire in wires):
        title = named.get(group) or does.get(group, "")
        yield Group(
            headings.get(group, f"{group}, {title}" if title else group),
            table(
                HEADS,
                [
                    _wire_row(building, number, wire, amps, fuses)
                    for number, wire in numbered
                    if wire.group == group
                ],
            ),
        )


def does_words(entry: PanelInput) -> str:
    """What a button or switch does, in words."""
    match entry.does:
        case "ring":
            return f"rings {', '.join(entry.zones)}"
        case "quiet":
            return f"keeps {', '.join(entry.zones)} quiet"
        case "step":
            return f"steps {entry.line}"
        case "stop":
            return "stops all bells"


def _wire_row(
    building: Building,
    number: int,
    wire: Wire,
    amps: Mapping[str, Figure],
    fuses: Mapping[str, str],
) -> tuple[Cell | str, ...]:
    from_, to, kind, fuse, colour, carries = wire_words(building, wire, amps, fuses)
    return (
        str(number),
        from_,
        to,
        kind,
        fuse,
        Cell(colour or "", measure=not colour and wire.kind in ("power", "building")),
        carries,
        "",
    )


def wire_words(
    building: Building, wire: Wire, amps: Mapping[str, Figure], fuses: Mapping[str, str]
) -> tuple[str, str, Cell, str, str, Cell]:
    """From, to, wire, fuse, colour, and what it carries."""
    rating = fuses.get(wire.fuse, "")
    return (
        shown(wire.start),
        shown(wire.end),
        _conductor(wire),
        f"{wire.fuse}, {rating}" if rating else wire.fuse or "—",
        wire.colour,
        _carries(building, wire, amps),
    )


def _conductor(wire: Wire) -> Cell:
    says = f"; {wire.says}" if wire.says else ""
    if wire.kind == "lead":
        return Cell(f"its own lead{says}")
    if wire.conductor is None and wire.kind == "building":
        return Cell(f"as found: to be measured{says}", measure=True)
    run = "" if wire.metres is None else f", {wire.metres:g} m"
    chosen = "to be chosen" if wire.conductor is None else str(wire.conductor)
    return Cell(f"{chosen}{run}{says}")


def _carries(building: Building, wire: Wire, amps: Mapping[str, Figure]) -> Cell:
    if wire.kind == "logic":
        ends = {wire.start.part, wire.end.part}
        return Cell("5 V" if CONVERTER in ends else "3.3 V")
    volts = f"{building.supply.volts:g} V"
    drawn = amps.get(wire.group)
    if wire.end.part.startswith("U ") or wire.start.part.startswith("U "):
        drawn = input_amps(building)
    if wire.kind == "lead" or drawn is None or isinstance(drawn, ToBeMeasured):
        return Cell(volts)
    return Cell(f"{volts}, {current(drawn)}")
