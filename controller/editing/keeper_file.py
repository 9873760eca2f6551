"""The keeper's file replaced as a whole: judged in memory, written safely, the old version kept.

A file is written beside its place, seen to the disk and renamed into it, so that a crash or a power
cut leaves the old file or the new one and never a part (rename(2), fsync(2)).
"""

from __future__ import annotations

import errno
import os
import shutil
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from controller.building.civil import utc_ns
from controller.building.differences import wiring_differences
from controller.building.durations import MILLISECOND
from controller.building.faults import Faults, shown
from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source, sources

MOST_VERSIONS = 50  # of each file; older ones are let go
_MOST_NAMED = 5  # tables that a refusal names
_UNFINISHED = ".edited.new"  # hidden, so it is no file of the building; one edit at a time


class EditRefused(Exception):
    """An edit that is not made. Says why, and what to do."""


class Version(NamedTuple):
    """What a file held until it was replaced."""

    file: Path
    utc: int  # when it was kept, ns to its millisecond; always later than the one before


# ── judged ───────────────────────────────────────────────────────────────────────────────────────


def proposed(path: Path, name: str, text: str, running: Building) -> Building:
    """The building as it would be with `text` in its file `name`. Nothing is written.

    `path` is the building's file or folder. Raises `Faults` where the building would have any, and
    `EditRefused` where `name` is none of its files, or where any of the installer's tables would be
    other than in `running`: what is wired where, and which program is run, is not for the page.
    """
    files, place = _placed(path, name)
    files[place] = files[place]._replace(content=_content(name, text))
    building = building_of(str(path), files)
    if changed := wiring_differences(running, building):
        named = "; ".join(changed[:_MOST_NAMED]) + ("; …" if len(changed) > _MOST_NAMED else "")
        raise EditRefused(
            "The installer's tables are changed only in an editor, and then reloaded. "
            f"Other than in what runs would be {named}."
        )
    return building


def _placed(path: Path, name: str) -> tuple[list[Source], int]:
    """The building's files as they are now, and which of them is `name`."""
    files, unreadable = sources(path)
    if unreadable:
        raise Faults(unreadable)
    names = [Path(source.file).name for source in files]
    if name not in names:  # and so nothing that leads to another folder, either
        raise EditRefused(
            f"{shown(name)} is none of the building's files; expected {' or '.join(names)}."
        )
    place = names.index(name)
    file = Path(files[place].file)
    if path.is_dir() and not file.resolve().is_relative_to(path.resolve()):
        raise EditRefused(
            f"{file} is a link out of its folder, to {file.resolve()}; change that in an editor."
        )
    return files, place


def _content(name: str, text: str) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError as error:
        wrong = ascii(text[error.start])
        raise EditRefused(f"{name}: the text has {wrong}, which is no letter.") from None


# ── written ──────────────────────────────────────────────────────────────────────────────────────


def write(path: Path, name: str, text: str, versions: Path) -> None:
    """Put `text` into the building's file `name`, and what it held into the folder `versions`.

    Mode, owner and access lists stay; where the file is a link, what it leads to is replaced. That
    the files are still those that were judged is for the caller to see (`fingerprint_of`). Raises
    `Faults` or `EditRefused`; then the file is as it was, unless the words say otherwise.
    """
    files, place = _placed(path, name)
    content = _content(name, text)
    target = Path(files[place].file).resolve()
    if files[place].content == content:
        return
    try:
        _keep(versions, name, files[place].content)
    except OSError as error:
        raise EditRefused(
            f"{name} was not changed, for what it holds now cannot be kept: "
            f"{_words(error, versions)}"
        ) from None
    try:
        _put(target, content, lambda new: _make_alike(target, new))
    except OSError as error:
        raise EditRefused(f"{name} was not changed: {_words(error, target.parent)}") from None
    try:
        _settle(target.parent)
    except OSError as error:
        raise EditRefused(
            f"{name} was changed, but a power cut may take that back: "
            f"{_words(error, target.parent)}"
        ) from None


def _put(file: Path, content: bytes, prepare: Callable[[Path], None]) -> None:
    """Write a file whole or not at all; `prepare` has the new one before it takes its place."""
    new = file.with_name(_UNFINISHED)
    new.unlink(missing_ok=True)  # of an edit that was cut
    try:
        with open(new, "xb", opener=lambda name, flags: os.open(name, flags, 0o600)) as stream:
            stream.write(content)
            stream.flush()
            prepare(new)
            os.fsync(stream.fileno())
        new.replace(file)
    finally:
        with suppress(OSError):
            new.unlink(missing_ok=True)


def _make_alike(file: Path, new: Path) -> None:
    """Give `new` the owner, mode and access lists of `file`."""
    was, is_now = file.stat(), new.stat()
    if (was.st_uid, was.st_gid) != (is_now.st_uid, is_now.st_gid):
        try:
            os.chown(new, was.st_uid, was.st_gid)
        except PermissionError:
            raise EditRefused(
                f"{file} was not changed: it belongs to user {was.st_uid} and group {was.st_gid}, "
                f"and would not if user {os.geteuid()} replaced it. "
                f"Give it to that user: chown {os.geteuid()} {file}"
            ) from None
    shutil.copystat(file, new)
    os.utime(new)  # but it is changed now


def _settle(folder: Path) -> None:
    """See a rename in `folder` to the disk."""
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _words(error: OSError, folder: Path) -> str:
    match error.errno:
        case errno.EROFS:
            return (
                f"{folder} may only be read. Mount it so that it may be written; where a service "
                "unit forbids that, name the folder in its ReadWritePaths=."
            )
        case errno.EACCES | errno.EPERM:
            return (
                f"user {os.geteuid()} may not write in {folder}. Give the folder to that user with "
                "chown, or to a group that the user is in, with chgrp and chmod g+w."
            )
        case errno.ENOSPC | errno.EDQUOT | errno.EFBIG:
            return f"the disk is full. Make room on the one that has {folder}."
    return f"{folder}: {error.strerror or error}."


# ── kept ─────────────────────────────────────────────────────────────────────────────────────────


def versions_of(versions: Path, name: str) -> list[Version]:
    """What is kept of the file `name`, the newest first.

    Raises `EditRefused` where the folder cannot be read.
    """
    try:
        files = list(versions.iterdir()) if versions.is_dir() else []
    except OSError as error:
        raise EditRefused(f"{versions} cannot be read: {error.strerror or error}.") from None
    kept = [version for file in files if (version := _version(file, name)) is not None]
    return sorted(kept, key=lambda version: version.utc, reverse=True)


def _version(file: Path, name: str) -> Version | None:
    """NAME.20261125T123000.250Z; None where it is something else."""
    try:
        at = datetime.strptime(file.name.removeprefix(f"{name}."), "%Y%m%dT%H%M%S.%f%z")
    except ValueError:
        return None
    return Version(file, utc_ns(at))


def _keep(versions: Path, name: str, content: bytes) -> None:
    """Keep one version more of a file, and no more than so many."""
    versions.mkdir(mode=0o700, parents=True, exist_ok=True)
    kept = versions_of(versions, name)
    if kept and kept[0].file.read_bytes() == content:  # of an edit that then failed
        return
    milliseconds = time.time_ns() // MILLISECOND
    if kept:  # a clock that was set back does not put the newest among the old
        milliseconds = max(milliseconds, kept[0].utc // MILLISECOND + 1)
    at = datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=milliseconds)
    file = versions / f"{name}.{at:%Y%m%dT%H%M%S}.{milliseconds % 1000:03d}Z"
    _put(file, content, lambda _: None)
    _settle(versions)
    for version in kept[MOST_VERSIONS - 1 :]:
        version.file.unlink(missing_ok=True)
