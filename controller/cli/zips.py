"""Zip files to keep or to send: written whole or not at all, and read without trust in them."""

from __future__ import annotations

import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from controller.cli.guard import NotDone

BUILDING = "files/"  # where the building's files stand in each of ours
MOST_ZIP_BYTES = 2 << 30
MOST_MEMBERS = 200
MOST_NAME = 200  # characters
_CHUNK = 1 << 20
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)


@contextmanager
def new_zip(path: Path) -> Iterator[zipfile.ZipFile]:
    """A zip file to be filled. Raises `FileExistsError` where there is something of that name;
    where anything else is raised, nothing is left of it.
    """
    try:
        file = path.open("xb")
    except FileExistsError:
        raise NotDone(f"{path}: is there already, and is not overwritten; name another") from None
    try:
        with file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as archive:
                yield archive
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        with suppress(OSError):
            path.unlink()
        raise


@contextmanager
def opened_zip(path: Path) -> Iterator[zipfile.ZipFile]:
    """A zip file to be read. Raises `NotDone` where it is none, or is damaged, or is too much."""
    if path.stat().st_size > MOST_ZIP_BYTES:
        raise NotDone(f"{path}: is larger than 2 GiB; expected a backup")
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            if len(names) > MOST_MEMBERS or len(set(names)) < len(names):
                raise NotDone(f"{path}: holds too much, or a name twice; expected a backup")
            yield archive
    except _BROKEN as fault:
        raise NotDone(f"{path}: is damaged, or is no backup ({fault})") from None


def member_bytes(archive: zipfile.ZipFile, name: str, most: int) -> bytes:
    """What a member holds, whatever it claims to. Raises `NotDone` where that is over `most`."""
    with archive.open(name) as member:
        content = member.read(most + 1)
    if len(content) > most:
        raise NotDone(f"{archive.filename}: {name} is larger than {most >> 20} MiB")
    return content


def unpack(archive: zipfile.ZipFile, name: str, to: Path, most: int) -> None:
    """Write a member to a new file. Raises `NotDone` where it is over `most` bytes."""
    with archive.open(name) as member, to.open("xb") as file:
        copied = _copied(member, file, most)
    if copied > most:
        raise NotDone(f"{archive.filename}: {name} is larger than {most >> 20} MiB")


def _copied(source: IO[bytes], to: IO[bytes], most: int) -> int:
    copied = 0
    while copied <= most and (chunk := source.read(_CHUNK)):
        to.write(chunk)
        copied += len(chunk)
    return copied


def pack_file(archive: zipfile.ZipFile, name: str, source: IO[bytes]) -> None:
    """Add an open file, piece by piece."""
    with archive.open(name, "w", force_zip64=True) as member:
        while chunk := source.read(_CHUNK):
            member.write(chunk)


def plain_name(name: str) -> bool:
    """Whether it names one TOML file in a folder, and nothing besides."""
    return (
        name.endswith(".toml")
        and len(name) <= MOST_NAME
        and name.isprintable()
        and not name.startswith(".")
        and not set(name) & set("/\\:")
    )
