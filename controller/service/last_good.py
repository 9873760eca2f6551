"""The last good copy of the file, in the state folder: what a start falls back on."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from controller.building.faults import Faults
from controller.building.file import fingerprint_of, read

if TYPE_CHECKING:
    from controller.building.model import Building

_FOLDER = "last-good"


def keep_last_good(path: Path, state: Path) -> None:
    """Copy a file, or the files of a folder, that was read without fault."""
    new, kept = state / f"{_FOLDER}.new", last_good_folder(state)
    shutil.rmtree(new, ignore_errors=True)
    new.mkdir()
    for sheet in sorted(path.glob("*.toml")) if path.is_dir() else [path]:
        shutil.copyfile(sheet, new / (sheet.name if path.is_dir() else "building.toml"))
    shutil.rmtree(kept, ignore_errors=True)
    new.rename(kept)


def last_good_folder(state: Path) -> Path:
    """Where the copy lies."""
    return state / _FOLDER


def last_good(state: Path) -> Building | None:
    """The building that the last good copy holds, if there is one."""
    folder = last_good_folder(state)
    if not folder.is_dir():
        return None
    try:
        return read(folder)
    except Faults:  # a copy cut short, or of a version with other keys
        return None


def building_to_run(
    path: Path, state: Path, speak: Callable[[str], None]
) -> tuple[Building, Building | None, Path]:
    """The file; else the last good copy, loudly. Also what the last run had, if that was another,
    and where what is given was read. Raises `Faults` where there is neither.
    """
    try:
        building = read(path)
    except Faults as faults:
        before = last_good(state)
        if before is None:
            raise
        speak(f"{faults}\nThe file has faults: going on with the last good copy of it.")
        return before, None, last_good_folder(state)
    return building, None if _is_last_good(building, state) else last_good(state), path


def _is_last_good(building: Building, state: Path) -> bool:
    """Whether the last good copy says the same, to the byte: then it need not be read in."""
    with contextlib.suppress(Faults):
        return fingerprint_of(last_good_folder(state)) == building.fingerprint
    return False
