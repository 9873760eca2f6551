"""`understudy backup` and `understudy restore`: a building's store and files in one zip file."""

from __future__ import annotations

import json
import os
import tempfile
import time
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, NamedTuple

import typer

from controller.circuits.folders import (
    kept_folder,
    make_folder,
    runtime_folder,
    state_folder,
)
from controller.cli.asking import PATIENT_SECONDS
from controller.cli.guard import NotDone
from controller.cli.spoken import paragraph
from controller.cli.zips import (
    BUILDING,
    member_bytes,
    new_zip,
    opened_zip,
    pack_file,
    plain_name,
    unpack,
)
from controller.pictures.spoken import counted
from controller.service.order_client import NoDaemon, OrderClient

STORE = "store.sqlite"
ABOUT = "about.json"
MOST_STORE_BYTES = 1 << 30  # a choice
MOST_FILE_BYTES = 1 << 20
MOST_ABOUT_BYTES = 1 << 16
_FORMAT = 1


class Kept(NamedTuple):
    """What goes into a backup: the building's files by name, and the store."""

    files: Mapping[str, str]
    fingerprint: str
    store: IO[bytes]


# ── out ──────────────────────────────────────────────────────────────────────────────────────────


def backup(file: Path, path: Path | None, runtime: Path | None, state: Path | None) -> None:
    """Write a backup: from the daemon that runs, else from its folders.

    Raises `NotDone`, `NoDaemon`, `Refused`, `StoreFault`, `Faults` or `OSError`.
    """
    with new_zip(file) as archive, _kept(file, path, runtime, state) as kept:
        about = {
            "format": _FORMAT,
            "version": _version(),
            "at": datetime.now(UTC).isoformat(timespec="seconds"),
            "fingerprint": kept.fingerprint,
        }
        archive.writestr(ABOUT, json.dumps(about, indent=1))
        for name, text in kept.files.items():
            archive.writestr(BUILDING + name, text)
        pack_file(archive, STORE, kept.store)
    names = ", ".join(kept.files)
    typer.echo(f"{file}: the store, and {counted(len(kept.files), 'file')} ({names}).")


@contextmanager
def _kept(
    file: Path, path: Path | None, runtime: Path | None, state: Path | None
) -> Iterator[Kept]:
    try:
        with OrderClient(runtime or runtime_folder(), PATIENT_SECONDS) as client:
            told = client.ask("files")
            _, handle = client.take_file("backup")
    except NoDaemon as gone:
        if gone.may_run:
            raise
        typer.echo(f"understudy: {gone}\nTaken from the folders themselves.", err=True)
    else:
        with os.fdopen(handle, "rb") as store:
            yield Kept(told["files"], told["fingerprint"], store)
        return
    with _of_folders(file, path, state or kept_folder(runtime or runtime_folder())) as kept:
        yield kept


@contextmanager
def _of_folders(file: Path, path: Path | None, state: Path) -> Iterator[Kept]:
    """What a daemon left: its store, and the building's files at `path` or their last good copy."""
    from controller.building.file import read
    from controller.journal.store import Store
    from controller.service.last_good import last_good_folder

    if not (state / STORE).is_file():
        raise NotDone(f"{state / STORE}: there is no store; name its folder with --state")
    source = path or last_good_folder(state)
    fingerprint = read(source).fingerprint
    # Beside the backup, where there must be room for it anyway; a Pi's /tmp may be in memory.
    with tempfile.TemporaryDirectory(dir=file.absolute().parent, prefix=".backup-") as folder:
        copy = Path(folder, STORE)
        store = Store(state / STORE)
        try:
            store.copy_to(copy)
        finally:
            store.close()
        with copy.open("rb") as stream:
            yield Kept(texts_of(source), fingerprint, stream)


def texts_of(path: Path) -> dict[str, str]:
    """The building's files, by name, whatever they hold. Raises `Faults` where one is not read."""
    from controller.building.faults import Faults
    from controller.building.sheets import sources

    files, unreadable = sources(path)
    if unreadable:
        raise Faults(unreadable)
    return {Path(one.file).name: one.content.decode(errors="replace") for one in files}


def _version() -> str:
    from controller.service.picture import program_version

    return program_version()


# ── back ─────────────────────────────────────────────────────────────────────────────────────────


def restore(file: Path, runtime: Path | None, state: Path | None, files: Path | None) -> None:
    """Make a store, and the building's files where they are missing, from a backup.

    Raises `NotDone`, `StoreFault` or `OSError`; nothing has changed then.
    """
    from controller.journal import keeping

    _refuse_running(runtime or runtime_folder())
    if files is not None and files.exists():
        raise NotDone(
            f"{files}: is there already, and is not overwritten; name another with --files"
        )
    with opened_zip(file) as archive:
        about, names = _looked_at(archive)
        texts = {n: member_bytes(archive, BUILDING + n, MOST_FILE_BYTES) for n in names}
        folder = make_folder(state or state_folder())
        with tempfile.TemporaryDirectory(dir=folder, prefix=".restoring-") as beside:
            copy = Path(beside, STORE)
            unpack(archive, STORE, copy, MOST_STORE_BYTES)
            restored = keeping.restore(copy, folder / STORE, time.time_ns())
    when = "" if restored.stamped_utc is None else f" of {keeping.utc_words(restored.stamped_utc)}"
    typer.echo(f"{folder / STORE} is restored, as{when or ' it was'}.")
    if restored.replaced is not None:
        typer.echo(f"The store that was there is now {restored.replaced}.")
    _put_files(files, texts, about)
    _say_what_next(restored.lines)


def _refuse_running(runtime: Path) -> None:
    try:
        with OrderClient(runtime, seconds=2.0) as client:
            client.ask("status")
    except NoDaemon as gone:
        if gone.may_run:
            raise NotDone(f"a daemon may run: end it first, then restore. {gone}") from None
        return
    raise NotDone(f"a daemon runs (it answers in {runtime}): end it first, then restore")


def _looked_at(archive: zipfile.ZipFile) -> tuple[dict[str, Any], list[str]]:
    """What a backup says of itself, and the names of the building's files in it."""
    names = archive.namelist()
    files = [name.removeprefix(BUILDING) for name in names if name.startswith(BUILDING)]
    strange = [
        name for name in names if not name.startswith(BUILDING) and name not in (ABOUT, STORE)
    ]
    strange += [name for name in files if not plain_name(name)]
    if strange or ABOUT not in names or STORE not in names:
        what = f"holds {strange[0]!r}" if strange else f"lacks {ABOUT} or {STORE}"
        raise NotDone(f"{archive.filename}: is no backup: it {what}")
    try:
        about = json.loads(member_bytes(archive, ABOUT, MOST_ABOUT_BYTES))
        number = int(about["format"])
    except (ValueError, KeyError, TypeError, RecursionError):
        raise NotDone(f"{archive.filename}: is no backup: its {ABOUT} makes no sense") from None
    if number > _FORMAT:
        raise NotDone(
            f"{archive.filename}: was made by version {about.get('version')}, which is newer; "
            "restore it with that version"
        )
    return about, files


def _put_files(files: Path | None, texts: Mapping[str, bytes], about: Mapping[str, Any]) -> None:
    if files is None:
        typer.echo(
            paragraph(
                f"The building's files ({', '.join(texts)}) were left in the backup; with --files "
                "FOLDER they are put there.",
                "",
            )
        )
        return
    files.mkdir(parents=True)
    for name, text in texts.items():
        (files / name).write_bytes(text)
    typer.echo(f"{files}: {', '.join(texts)}, as they ran at {about.get('at', 'that time')}.")


def _say_what_next(lines: tuple[str, ...]) -> None:
    unread = (
        f" Nobody knows what the dials show by now ({', '.join(lines)}): then say "
        "`understudy first-start`, which asks for each line."
        if lines
        else ""
    )
    typer.echo(paragraph(f"Next: start the daemon.{unread}", ""))
