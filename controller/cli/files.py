"""`understudy reload`, `understudy edit file` and `edit undo`: whole files taken, put, put back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import typer

from controller.building.file import fingerprint_of, read
from controller.circuits.folders import runtime_folder
from controller.cli.asking import PATIENT_SECONDS
from controller.cli.edits import (
    CHANGED,
    NOT_DONE,
    daemon_of,
    kept_versions,
    previewed,
    settle,
    settle_there,
    texts_of,
)
from controller.cli.guard import NotDone
from controller.editing.document import Change
from controller.editing.lines_changed import lines_changed
from controller.editing.undoing import earlier
from controller.pictures.spoken import moment_text
from controller.service.order_client import OrderClient

MOST_BYTES = 1 << 20  # of a file, as the daemon takes it
_MOST_LINES = 40  # of a file, that an undo shows


def reload(runtime: Path | None, *, yes: bool) -> int:
    """Show what the files would change, ask, and have them taken; the exit code.

    Raises `Refused` or `NoDaemon`.
    """
    with OrderClient(runtime or runtime_folder(), PATIENT_SECONDS) as client:
        fingerprint = previewed(client)
        if not (yes or typer.confirm("Reload?")):
            typer.echo("Not reloaded: what was running goes on.")
            return NOT_DONE
        typer.echo(client.ask("reload", fingerprint=fingerprint)["says"])
    return 0


def edit_file(
    runtime: Path | None, file: Path, path: Path | None, name: str, was: str | None, *, yes: bool
) -> int:
    """Put a new text in the place of the keeper's file; the exit code. Raises as `settle` does.

    `path` is the building's; that of the daemon which runs, unless given. `was` is the fingerprint
    of the files on which the text was based; of those that lie there now, unless said.
    """
    change = Change(name, _text_of(file))
    if path is None:
        with OrderClient(runtime or runtime_folder(), PATIENT_SECONDS) as client:
            return settle_there(client, change, was, yes=yes)
    if was is not None and was != fingerprint_of(path):
        raise NotDone(CHANGED)
    return settle(path, runtime, texts_of(path), change, yes=yes)


def undo(path: Path, runtime: Path | None, *, yes: bool) -> int:
    """Put back what the last edit replaced; the exit code. Raises as `settle` does."""
    texts = texts_of(path)
    client = daemon_of(path, runtime)
    if client is None:
        name, text, at = earlier(path, kept_versions(path, runtime))
    else:
        with client:
            told = client.ask("earlier")
        name, text, at = told["file"], told["text"], told["edited"]
    edited = moment_text(read(path).civil, at).partition(".")[0]
    typer.echo(f"The edit of {edited} is taken back, in {name}:")
    for line in _line_changes(texts[name], text):
        typer.echo(line)
    return settle(path, runtime, texts, Change(name, text), yes=yes)


def _line_changes(before: str, after: str) -> Iterator[str]:
    """The lines that go (−) and that come (+), no more than a screen of them."""
    signs = {"gone": "−", "new": "+"}
    lines = [line for line in lines_changed(before, after) if line.kind in signs]
    for line in lines[:_MOST_LINES]:
        yield f"  {signs[line.kind]} {line.text}".rstrip()
    if len(lines) > _MOST_LINES:
        yield f"  and {len(lines) - _MOST_LINES} lines more"


def _text_of(file: Path) -> str:
    with file.open("rb") as stream:
        content = stream.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise typer.BadParameter(f"{file} is larger than 1 MiB", param_hint="FILE")
    try:
        return content.decode()
    except UnicodeDecodeError:
        raise typer.BadParameter(f"{file} is no UTF-8 text", param_hint="FILE") from None
