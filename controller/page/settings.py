"""What the page was told when it was started."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

PEOPLE = Path("/etc/understudy/people.toml")


class Settings(NamedTuple):
    """Where everything is that the page reads; it writes nothing."""

    path: Path  # the building's file or folder, for when the daemon is down
    runtime: Path  # folder of the daemon's socket
    state: Path  # folder of its last-state file
    people: Path  # who may do what


def people_file() -> Path:
    """UNDERSTUDY_PEOPLE, else /etc/understudy/people.toml."""
    return Path(os.environ.get("UNDERSTUDY_PEOPLE") or PEOPLE)
