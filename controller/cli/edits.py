"""The one way in which an edit reaches the files: shown, asked about, and written.

Where a daemon runs the building it writes and takes up the file, by its orders `preview` and
`edit`; else the file is written here, and the version before it kept in the state folder.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from controller.building.faults import Faults
from controller.building.file import building_of, fingerprint_of, read
from controller.building.sheets import sources
from controller.circuits.folders import fake_folder, kept_folder, runtime_folder
from controller.cli.asking import PATIENT_SECONDS
from controller.cli.guard import NotDone
from controller.cli.spoken import paragraph
from controller.editing.keeper_file import proposed, write
from controller.editing.undoing import versions_folder
from controller.service.order_client import NoDaemon, OrderClient
from controller.timetable.days import Timetable
from controller.timetable.differences import differences, summary
from controller.timetable.silences import silences

if TYPE_CHECKING:
    from controller.editing.document import Change, Texts

NOT_DONE = 1  # exit code
CHANGED = "The files were changed since this edit was begun: begin it again from them."


def texts_of(path: Path) -> dict[str, str]:
    """A building's files by name, as an edit begins from them. Raises `Faults`."""
    files, unreadable = sources(path)
    if unreadable:
        raise Faults(unreadable)
    try:
        return {Path(source.file).name: source.content.decode() for source in files}
    except UnicodeDecodeError:
        building_of(str(path), files)  # has the words for it
        raise


def settle(path: Path, runtime: Path | None, texts: Texts, change: Change, *, yes: bool) -> int:
    """Show what a change of the building's files would come to, ask, and have it written.

    `texts` are the files from which the edit was made (`texts_of`): if they are others by now it is
    refused. The exit code. Raises `Faults`, `EditRefused`, `Refused`, `NoDaemon` or `NotDone`.
    """
    if texts.get(change.file) == change.text:
        typer.echo(f"Nothing is to be done: {change.file} says so already.")
        return 0
    client = daemon_of(path, runtime)
    fingerprint = fingerprint_of(path)
    if texts_of(path) != texts:
        raise NotDone(CHANGED)
    if client is None:
        return _settle_here(path, runtime, change, fingerprint, yes=yes)
    with client:
        return settle_there(client, change, fingerprint, yes=yes)


def daemon_of(path: Path, runtime: Path | None) -> OrderClient | None:
    """The daemon that runs this building, on the pins or on the fake board; None where none does.

    Raises `NoDaemon` where one may run and cannot be asked.
    """
    for folder in (runtime_folder(), fake_folder(path)) if runtime is None else (runtime,):
        try:
            client = OrderClient(folder, PATIENT_SECONDS)
        except NoDaemon as none:
            if none.may_run:
                raise
            continue
        its = client.ask("files")["path"]
        if os.path.exists(its) and os.path.samefile(its, path):
            return client
        client.close()
    return None


def kept_versions(path: Path, runtime: Path | None) -> Path:
    """Where the earlier files of a building are kept while no daemon runs it."""
    return versions_folder(kept_folder(runtime or runtime_folder()), path)


def settle_there(client: OrderClient, change: Change, was: str | None, *, yes: bool) -> int:
    """Have a daemon show and make a change; `was` is the fingerprint of the files on which it was
    based, those that lie there now unless told. The exit code. Raises `Refused` or `NoDaemon`.
    """
    fingerprint = previewed(client, file=change.file, text=change.text)
    if not _wanted(f"Write {change.file} and reload?", yes=yes):
        return NOT_DONE
    based = fingerprint if was is None else was
    answer = client.ask("edit", file=change.file, text=change.text, was=based)
    typer.echo(paragraph(answer["says"], ""))
    return 0


def previewed(client: OrderClient, **what: Any) -> str:
    """Print what would change; the fingerprint of the files that were looked at."""
    answer = client.ask("preview", **what)
    _show(answer["says"], answer["changes"], answer["silences"])
    fingerprint: str = answer["fingerprint"]
    return fingerprint


def _settle_here(
    path: Path, runtime: Path | None, change: Change, fingerprint: str, *, yes: bool
) -> int:
    before = read(path)
    after = proposed(path, change.file, change.text, before)
    now = time.time_ns()
    rings = differences(Timetable(before), Timetable(after), now)
    changes = summary(rings, after.civil)
    _show(
        "What would change:" if changes else "Nothing would change in the coming 14 days.",
        changes,
        silences(rings, after.civil.date_at(now)),
    )
    if not _wanted(f"Write {change.file}?", yes=yes):
        return NOT_DONE
    if fingerprint_of(path) != fingerprint:
        raise NotDone(CHANGED)
    write(path, change.file, change.text, kept_versions(path, runtime))
    typer.echo(f"{change.file} is written; the version before it is kept. No daemon runs here.")
    return 0


def _show(says: str, changes: Iterable[str], silent: Iterable[str]) -> None:
    for words in silent:
        typer.secho(paragraph(words, "  ! "), bold=True)
    typer.echo(says)
    for change in changes:
        typer.echo(paragraph(change))


def _wanted(question: str, *, yes: bool) -> bool:
    if yes or typer.confirm(question):
        return True
    typer.echo("Not written: all is as it was.")
    return False
