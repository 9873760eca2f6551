"""Stores as a daemon leaves them, and the files beside."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from desks import SECOND, moment, small_building
from houses import SMALL

from controller.engine.records import LineRow, MissRow, NoteRow, SoundingRow, Stamp
from controller.journal.store import Store
from controller.service.last_good import keep_last_good

BUILDING = small_building(SMALL)
NOW = moment(BUILDING)
DUE = moment(BUILDING, "2026-11-25T08:30:00").utc
RUNG = SoundingRow(
    4,
    "north",
    DUE,
    DUE,
    900 * SECOND,
    "boot",
    (0, 5 * SECOND),
    ("2026-11-25T08:30:00",),
    "First class",
    "",
    "done",
)
MISSED = MissRow("south", "2026-11-25T09:00:00", DUE + 1800 * SECOND, "supply")
READ = LineRow("main", True, 630, 720, "+", False, False, None, NOW.utc - 10 * SECOND)


def leave(folder: Path, file: Path, *more: Any) -> None:
    """What a daemon of `file` leaves in its state folder: a ring, a miss, a line, and this."""
    with_stamp = Stamp(*NOW, NOW.utc, DUE - SECOND, 9)
    store = Store(folder / "store.sqlite")
    store.commit([with_stamp, RUNG, MISSED, READ, *more])
    store.close()
    keep_last_good(file, folder)


def note(number: int, text: str, who: str = "keeper") -> NoteRow:
    """A note of 10:30:10 and so many seconds."""
    return NoteRow(number, NOW.utc + number * SECOND, who, text)
