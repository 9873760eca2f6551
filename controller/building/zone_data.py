"""Which version of the IANA time zone data is in use, and whether it is old.

`zoneinfo` reads the system's files where there are any, and else those of the package `tzdata`.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Iterable
from importlib import import_module
from pathlib import Path

_MOST_LETTERS = 100  # of a first line


def system_version(folders: Iterable[str] | None = None) -> str | None:
    """The system's version, such as "2026a", from the first folder that has zone files.

    None where no folder has any, or where their version is not written there.
    """
    for folder in map(Path, zoneinfo.TZPATH if folders is None else folders):
        if not folder.is_dir():
            continue
        first = _first_line(folder / "tzdata.zi")
        if first.startswith("# version "):
            return first.removeprefix("# version ").strip()
        return _first_line(folder / "+VERSION").strip() or None
    return None


def package_version() -> str | None:
    """The version of the package `tzdata`; None where it is not installed."""
    try:
        return str(import_module("tzdata").IANA_VERSION)
    except ImportError:
        return None


def zone_data_advice(system: str | None, package: str | None) -> str | None:
    """A sentence where the system's zone data, which is used first, is older than the package's.

    Versions of IANA's data sort as they are written: year, then letters.
    """
    if system is None or package is None or system >= package:
        return None
    return (
        f"The system's time zone data is {system} and is used before the newer {package} of the "
        "package tzdata. Changes of civil time decided since are not known; update the system's."
    )


def _first_line(file: Path) -> str:
    try:
        with file.open(encoding="utf-8", errors="replace") as stream:
            return stream.readline(_MOST_LETTERS)
    except OSError:
        return ""
