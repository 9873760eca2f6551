"""`understudy tape read`: what was noted of a tape becomes [tape]."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import typer

from controller.building.durations import duration_text
from controller.building.file import read
from controller.building.kept import Halves, Tape
from controller.cli.edits import settle, texts_of
from controller.cli.given import read_keys
from controller.cli.spoken import columns
from controller.cli.tape_folding import holes_shown
from controller.editing.document import with_tape
from controller.editing.tape_changes import clock_text, punched
from controller.editing.tape_notes import MOST_BYTES, Notes, notes_of
from controller.editing.tape_read import Scale, read_tape
from controller.pictures.spoken import counted

if TYPE_CHECKING:
    from controller.building.model import Building


class Given(NamedTuple):
    """The options, as they were written."""

    first: str | None
    starts: str | None
    length: str | None
    for_: str | None
    turn: float | None


def read_notes(file: Path, path: Path, given: Given, runtime: Path | None, *, yes: bool) -> int:
    """Show what is doubtful in the notes, and the tape; ask, and have it written; the exit code.

    Raises `Faults` with all that cannot be read, `typer.BadParameter`, and what `settle` raises.
    """
    texts = texts_of(path)
    building = read(path)
    with file.open("rb") as stream:
        content = stream.read(MOST_BYTES + 1)
    notes = notes_of(file.name, content, list(building.zones))
    scale = _scale(given, notes, building)
    found = read_tape(notes, scale)
    lines = "1 note" if len(notes.notes) == 1 else f"{len(notes.notes)} notes"
    typer.echo(f"{lines}, {counted(found.turns, 'turn')} begun, {_doubts(len(found.doubts))}")
    for line in columns([(f"line {one.line}", one.says) for one in found.doubts], indent=2):
        typer.echo(line)
    typer.echo("")
    for line in holes_shown(found.tape):
        typer.echo(line)
    typer.echo("")
    change = with_tape(texts, punched(found.tape))
    return settle(path, runtime, texts, change, yes=yes)


def _doubts(number: int) -> str:
    if number == 0:
        return "nothing doubtful."
    return f"{counted(number, 'doubt')}:"


def _scale(given: Given, notes: Notes, building: Building) -> Scale:
    """What the options say, else the file's tape. `typer.BadParameter` says what is missing."""
    kept = building.tape
    length = given.length or (kept and duration_text(kept.length_ns))
    for_ = given.for_ or (kept and duration_text(kept.for_ns))
    starts = given.starts or (kept and clock_text(kept.starts))
    if length is None:
        raise _lacks(
            "--length", "the file has no tape yet; expected one turn's length: 6h, 12h, 24h"
        )
    if for_ is None:
        raise _lacks("--for", "the file has no tape yet; expected how long each hole rings, as 4s")
    if given.first and given.starts:
        raise _lacks("--first or --starts", "expected one of the two")
    if starts is None and given.first is None and notes.measure != "clock":
        raise _lacks(
            "--first", "nobody says what clock time a hole is for; expected --first or --starts"
        )
    if (given.turn is not None) != (notes.measure == "position"):
        words = f"it goes with the column position, and {notes.measure} is what was noted"
        if given.turn is None:
            words = "expected how many units of position one turn of the tape has"
        raise _lacks("--turn", words)
    if given.turn is not None and not 0 < given.turn < 1e9:
        raise _lacks("--turn", f"{given.turn}: expected a number above 0")
    tape = read_keys(
        Tape, {"length": length, "starts": starts or "00:00", "for": for_, "holes": {}}
    )
    first = None
    if given.first is not None:
        try:
            first = read_keys(Halves, {"day": given.first}).day
        except typer.BadParameter as fault:
            fault.param_hint = "--first"
            raise
    turn = None if given.turn is None else Decimal(str(given.turn))
    return Scale(tape.length_ns, tape.for_ns, tape.starts, first, turn)


def _lacks(option: str, words: str) -> typer.BadParameter:
    return typer.BadParameter(words, param_hint=option)
