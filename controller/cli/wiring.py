"""`understudy wiring`: the installer's wiring sheet, its drawings and its terminal list."""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import typer

from controller.building.advice import advice
from controller.building.file import read
from controller.building.terminals import Wire
from controller.cli.guard import NotDone
from controller.cli.local import instant_or_now
from controller.cli.spoken import paragraph
from controller.cli.wiring_drawings import drawings
from controller.cli.wiring_rows import (
    WIDTHS,
    circuits_table,
    fuses_table,
    group_amps,
    header_rows,
    measure_table,
    supply_rows,
    volts_table,
    wire_groups,
    wire_words,
)
from controller.cli.wiring_values import value
from controller.electrics.cautions import cautions
from controller.electrics.feeds import feeds
from controller.electrics.figures import Figure, Finding
from controller.electrics.findings import findings
from controller.electrics.fuse_list import fuse_list
from controller.electrics.load import Played
from controller.electrics.sheet import circuit_rows, return_rows, supply_row
from controller.electrics.terminal_list import terminal_list
from controller.pictures.spoken import counted, day_text, moment_text
from controller.pictures.wiring_page import MADE_BY, WiringPage, wiring_html
from controller.rehearsal.closings import played

if TYPE_CHECKING:
    from controller.building.model import Building

PAGE, LIST = "wiring.html", "terminals.csv"
_DAYS = 7
_COLUMNS = (
    "no.", "belongs to", "from", "to", "wire", "fuse", "colour", "carries",
)  # fmt: skip
_LETTERS = (
    "G supply, BT battery, V5 converter, F fuse, K relay (C common, NO open at rest, NC closed at "
    "rest, IN its input), B relay board, T timer, H lamp, S suppressor (K stripe), R resistor, U "
    "isolated input, P bells, dials or button in the building, J joint there, X terminals in the "
    "cabinet, Pi the 40-pin header. X+, XB, XP, X0, X3 and XG are rows of joined terminals: the "
    "supply's +, that of the bells, that of the panel, its 0 V, and the Pi's 3.3 V and ground."
)
_NOTES = (
    "A wire in the cabinet is no thinner than its fuse asks for: 0.5 mm² up to 3 A, 0.75 mm² up to "
    "6 A, 18 AWG up to 7 A, 16 AWG up to 10 A (sources: the wiring guide; the local code decides).",
    "Wires before F MAIN and F BATTERY are behind no fuse: keep them as short as can be.",
    "Which wire of an alternating line is a and which is b is found by trial: where the first "
    "impulse moves no dial, exchange them, or say `understudy lines NAME swapped`.",
    "T FEED is set so that a restart of the Pi does not matter, say 60 s. Where K HEALTH is to "
    "light the lamp only, leave T FEED and K FEED out and join their X+ terminal to XB:1.",
    "A spare contact of the same relay, from X3 to the pin, may stand in for a sense's isolator.",
)


class _Files(NamedTuple):
    """What is to be written: names and texts."""

    texts: dict[str, str]
    found: tuple[Finding, ...]
    advised: tuple[str, ...]


def wiring(path: Path, out: Path, at: str | None) -> None:
    """Write the sheet. Raises `Faults`, `NotDone`, `OSError` or `typer.BadParameter`."""
    building = read(path)
    first = building.civil.date_at(instant_or_now(building.civil, at, "--at"))
    start, until = (
        building.civil.instant(datetime.combine(first + timedelta(days=days), time()))
        for days in (0, _DAYS)
    )
    made = _made(building, path, _played(building, start, until))
    _refuse_what_is_not_ours(out, made.texts)
    out.mkdir(parents=True, exist_ok=True)
    for name, text in made.texts.items():
        (out / name).write_text(text, encoding="utf-8", newline="")
    _tell(building, out, made)


def _played(building: Building, start: int, until: int) -> Played:
    """The coming week by the engine; a person at a terminal is told what takes so long."""
    if not sys.stderr.isatty():
        return played(building, start, until)
    typer.echo("Playing the coming week …", err=True, nl=False)
    try:
        return played(building, start, until)
    finally:
        typer.echo("\r\x1b[K", err=True, nl=False)  # the line is wiped: ECMA-48, EL


def _made(building: Building, path: Path, week: Played) -> _Files:
    wires, rows = terminal_list(building), circuit_rows(building)
    supply, fuses = supply_row(building, week), fuse_list(building)
    ratings = {one.name: value(one.amps, "A").words.partition(":")[0] for one in fuses}
    amps = group_amps(building, rows)
    found, advised = findings(building, week), advice(building)
    drawn = tuple(drawings(building, wires, rows, ratings))
    worst_at = ""
    if supply.worst_utc is not None:
        worst_at = moment_text(building.civil, supply.worst_utc)
    page = WiringPage(
        building.name or "The building",
        _about(building, path),
        cautions(building),
        tuple((one.circuit, one.says) for one in found),
        advised,
        measure_table(building),
        tuple(_assumed(building)),
        tuple(supply_rows(building, supply, _week_words(building, week), worst_at)),
        circuits_table(building, rows),
        volts_table(rows, return_rows(building)),
        fuses_table(fuses),
        header_rows(wires),
        tuple(wire_groups(building, wires, amps, ratings)),
        WIDTHS,
        _LETTERS,
        _NOTES,
        drawn,
    )
    texts = {PAGE: wiring_html(page), LIST: _list(building, wires, amps, ratings)}
    texts |= {f"drawing-{one.name}.svg": f"{MADE_BY}\n{one.svg}" for one in drawn}
    return _Files(texts, found, advised)


def _about(building: Building, path: Path) -> tuple[tuple[str, str], ...]:
    from controller.building.differences import installers_fingerprint
    from controller.service.picture import program_version

    return (
        ("Made from", f"{path}, by understudy {program_version()}"),
        ("Installer's tables", f"{installers_fingerprint(building)} (their fingerprint)"),
        ("Names", "as in the file: zones.north is the table [zones.north]"),
    )


def _week_words(building: Building, week: Played) -> str:
    civil = building.civil
    return f"from {day_text(civil.date_at(week.start_utc))}, as the engine plays it"


def _assumed(building: Building) -> Iterator[str]:
    """What the file leaves to its defaults and a figure on the sheet rests upon."""
    if building.battery is None:
        volts = building.supply.volts
        yield (
            f"the supply gives {volts:g} V all the time (there is no [battery]). Where there is "
            "one say so: it may give 29.4 V, and a suppressor must not conduct at that"
        )
    else:
        said = building.battery.model_fields_set
        for key, words in (
            ("cells", f"{building.battery.cells} cells"),
            ("end_cell_volts", "1.75 V a cell at the end of a discharge"),
            ("float_cell_volts", "2.27 V a cell on float"),
            ("boost_cell_volts", "2.45 V a cell on boost"),
            ("rate_hours", "its ampere-hours are of 20 h"),
            ("peukert", "Peukert's exponent 1.2"),
            ("ageing", "bought 1.25 times as large as needed"),
        ):
            if key not in said:
                yield f"battery: {words}"
    circuits = {feed.name: feed.circuit for feed in feeds(building)}
    bunched = [name for name, one in circuits.items() if "spread" not in one.model_fields_set]
    if bunched:
        yield f"{', '.join(bunched)}: all bells or dials hang at the run's end (spread)"
    needing = [name for name, one in circuits.items() if one.least_volts is None]
    if needing:
        yield f"{', '.join(needing)}: needs three quarters of what it is made for (least_volts)"
    kinds = [name for name, zone in building.zones.items() if "kind" not in zone.model_fields_set]
    if kinds:
        yield f"zones {', '.join(kinds)}: trembler bells (kind)"
    yield "F V5: a controller and relay board of 15 W; F HEALTH: a choice, until measured"


def _list(
    building: Building,
    wires: Sequence[Wire],
    amps: Mapping[str, Figure],
    fuses: Mapping[str, str],
) -> str:
    """The terminal list as CSV (RFC 4180), one wire a line."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_COLUMNS)
    for number, wire in enumerate(wires, 1):
        start, end, kind, fuse, colour, carries = wire_words(building, wire, amps, fuses)
        row = (number, wire.group, start, end, kind.words, fuse, colour, carries.words)
        writer.writerow(_no_formula(cell) for cell in row)
    return text.getvalue()


def _no_formula(cell: object) -> object:
    """A colour beginning as a formula would is shown as text by a spreadsheet."""
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@") else cell


def _refuse_what_is_not_ours(out: Path, texts: Mapping[str, str]) -> None:
    """What lies there under one of our names and was not made by this command stays."""
    for name in texts:
        file = out / name
        if not file.exists():
            continue
        with file.open("rb") as stream:
            head = stream.read(200)
        ours = ",".join(_COLUMNS).encode() if name == LIST else MADE_BY.encode()
        if ours not in head:
            raise NotDone(
                f"{file} is there and was not made by this command. Nothing was written: give "
                "--out another folder, or move that file away."
            )


def _tell(building: Building, out: Path, made: _Files) -> None:
    pictures = counted(len(made.texts) - 2, "drawing")
    typer.echo(f"Written in {out}: {PAGE} to print, {LIST}, and {pictures} as SVG.")
    old = sorted(
        file.name for file in out.glob("drawing-*.svg") if file.name not in made.texts
    )  # fmt: skip
    if old:
        typer.echo(paragraph(f"From before, and no longer of this file: {', '.join(old)}", ""))
    typer.echo("\nBefore anything else")
    for says in cautions(building):
        typer.echo(paragraph(says))
    if made.found:
        typer.echo("\nWhat will not work as the file has it")
        for one in made.found:
            typer.echo(paragraph(f"{one.circuit}: {one.says}"))
    if made.advised:
        typer.echo("\nAdvice")
        for says in made.advised:
            typer.echo(paragraph(says))
