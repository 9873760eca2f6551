"""The last state that a daemon left behind, for when none answers."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

from controller.service.last_state import NAME

MOST_BYTES = 4 << 20


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
