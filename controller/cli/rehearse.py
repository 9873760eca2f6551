"""`understudy rehearse`: the engine on virtual time, as JSON Lines or as a table."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import typer

from controller.building.civil import DAY_SECONDS, SECOND
from controller.building.file import read
from controller.cli import local
from controller.cli.rehearsal_table import MOST_MISSED, table
from controller.pictures.spoken import day_text
from controller.rehearsal.drawn import drawn
from controller.rehearsal.record import RehearsalRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import World
from controller.rehearsal.written import Only, json_line, only, tally

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.pictures.dials import Dials

_LONGEST_BOOT_NS = DAY_SECONDS * SECOND
_OFTEN = 500  # records between two looks of the progress bar


class Asked(NamedTuple):
    """The arguments, as they were written."""

    start: str
    until: str
    dials: tuple[str, ...]
    cuts: tuple[str, ...]
    steps: tuple[str, ...]
    boot: str
    only: Only | None


def rehearse(path: Path, asked: Asked, as_json: bool, svg: Path | None = None) -> None:
    """Rehearse the building of `path` and print what comes of it; draw its dials into `svg`."""
    building = read(path)
    script = script_of(building, asked)
    world = World(building, script)
    records = world.records()
    if svg is not None:
        records = drawn(building, script, world, records, lambda dials: _draw(dials, svg))
    if sys.stderr.isatty() and not (as_json and sys.stdout.isatty()):
        records = _with_progress(building, script, records)
    if asked.only is not None:
        records = only(records, asked.only)
    if as_json:
        _write(building, records)
        return
    counted = tally(records, building.civil, MOST_MISSED)
    for line in table(building, script, counted):
        typer.echo(line)


def script_of(building: Building, asked: Asked) -> Script:
    """What the arguments ask for. `typer.BadParameter` where they make no sense."""
    civil = building.civil
    start = local.instant(civil, asked.start, "--from")
    until = local.instant(civil, asked.until, "--until")
    if until <= start:
        raise typer.BadParameter(
            f"{asked.until!r} is not after --from {asked.start!r}", param_hint="--until"
        )
    if until - start > local.LONGEST_NS:
        raise typer.BadParameter(
            f"{asked.until!r}: expected at most 20 years after --from", param_hint="--until"
        )
    window = start, until
    return Script(
        start,
        until,
        local.dials(building, asked.dials),
        local.cuts(civil, asked.cuts, window),
        local.duration(asked.boot, "--boot", _LONGEST_BOOT_NS),
        local.steps(civil, asked.steps, window),
    )


def _draw(dials: Dials, svg: Path) -> None:
    from controller.pictures.dials_svg import dials_svg  # late: most rehearsals are not drawn

    svg.write_text(dials_svg(dials), encoding="utf-8")


def _write(building: Building, records: Iterable[RehearsalRecord]) -> None:
    """JSON is UTF-8 (RFC 8259 §8.1), whatever the terminal's own encoding is."""
    out = typer.get_binary_stream("stdout")
    for record in records:
        out.write(json_line(record, building.civil).encode() + b"\n")
    out.flush()


def _with_progress(
    building: Building, script: Script, records: Iterable[RehearsalRecord]
) -> Iterator[RehearsalRecord]:
    """The same records; meanwhile, on standard error, how far they are."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn("{task.fields[day]}", markup=False),
        BarColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task("", total=script.until_utc - script.start_utc, day="")
        for number, record in enumerate(records):
            if number % _OFTEN == 0:
                day = day_text(building.civil.date_at(record.at))
                bar.update(task, completed=record.at - script.start_utc, day=day)
            yield record
