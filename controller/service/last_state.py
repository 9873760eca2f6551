"""The last-state file: what was, for when the daemon is down. A reader needs nothing else."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import Any

NAME = "last-state.json"
EVERY_SECONDS = 600  # written so often at least, and whenever a fault begins or ends


def keep_last_state(folder: Path, picture: dict[str, Any]) -> None:
    """Write it, whole or not at all. Raises `OSError`."""
    new = folder / f"{NAME}.new"
    with new.open("w", encoding="utf-8") as file:
        json.dump({"at_utc": time.time_ns(), "state": picture}, file)
        file.flush()
        os.fsync(file.fileno())
    new.replace(folder / NAME)
