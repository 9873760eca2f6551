"""The last-state file: what was, for when the daemon is down. A reader needs nothing else."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import Any, NamedTuple

NAME = "last-state.json"
EVERY_SECONDS = 600  # written so often at least, and whenever a fault begins or ends
MOST_BYTES = 4 << 20  # that are read


def keep_last_state(folder: Path, picture: dict[str, Any]) -> None:
    """Write it, whole or not at all. Raises `OSError`."""
    new = folder / f"{NAME}.new"
    with new.open("w", encoding="utf-8") as file:
        json.dump({"at_utc": time.time_ns(), "state": picture}, file)
        file.flush()
        os.fsync(file.fileno())
    new.replace(folder / NAME)


class LastState(NamedTuple):
    """When it was (utc, ns), and the picture of it."""

    at_utc: int
    picture: dict[str, Any]


def last_state_of(folder: Path) -> LastState | None:
    """What the last-state file of a state folder holds; None where there is none, or none whole.

    Raises `PermissionError` where this user may not read it.
    """
    try:
        with (folder / NAME).open("rb") as file:
            text = file.read(MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        return None
    if len(text) > MOST_BYTES:
        return None
    try:
        kept = json.loads(text)
        at, picture = kept["at_utc"], kept["state"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    if not isinstance(at, int) or not isinstance(picture, dict):
        return None
    return LastState(at, picture)
