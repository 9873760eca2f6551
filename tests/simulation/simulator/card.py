"""The controller's own store, SQLite on a disk in memory, in the place of the modelled card.

A power cut takes an image of its files as they are and goes on with that. What it loads must be
what was acknowledged, whatever happened to it.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.disk import Disk
from simulator.words import Violation

from controller.engine.records import (
    FaultRow,
    FollowRow,
    MissRow,
    NoteRow,
    QuietRow,
    Record,
    SoundingRow,
)
from controller.journal.faults import StoreDamaged
from controller.journal.mirror import Mirror
from controller.journal.rows import NEWEST_MISSES
from controller.journal.schema import set_aside
from controller.journal.store import Store

if TYPE_CHECKING:
    from simulator.week import Week

_MEMORY = Path("/dev/shm")


class Card(Disk):
    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        place = _MEMORY if _MEMORY.is_dir() else None
        self._folder = Path(tempfile.mkdtemp(prefix="week", dir=place))
        self._images = 0
        (self._folder / "run").mkdir()
        self._path = self._folder / "store.sqlite"
        self._store: Store | None = Store(self._path)

    def keep(self, records: Sequence[Record]) -> None:
        if self._store is None:
            self._open()
        assert self._store is not None
        self._store.commit(records)
        super().keep(records)

    def fold(self) -> None:
        if self._store is not None:
            self._store.fold()

    def mirror(self, boot: str) -> Mirror:
        return Mirror(self._folder / "run" / "unstored.json", boot)

    def load(self) -> list[Record]:
        """As a new daemon finds it: opened anew, and exactly what was acknowledged."""
        if self.newer:
            return []
        if self._store is not None:
            self._store.close()
        loaded = self._open()
        found = {record.key: record for record in loaded if not isinstance(record, NoteRow)}
        known = {key: row for key, row in self.rows.items() if not _taken_back(row)}
        for key in [*known, *(found.keys() - known.keys())]:
            if found.get(key) != known.get(key) and not self._too_many(key):
                says = f"{known.get(key)} was stored, {found.get(key)} is there"
                raise Violation("the store has what it acknowledged", says)
        return loaded

    def _too_many(self, key: tuple[str, ...]) -> bool:
        """Whether a start hears of the newest of these only, and there are more."""
        return key[0] == "miss" and sum(one[0] == "miss" for one in self.rows) > NEWEST_MISSES

    def _open(self) -> list[Record]:
        try:
            self._store = Store(self._path)
            return self._store.load()
        except StoreDamaged:
            set_aside(self._path)
            self._store = Store(self._path)
            return self._store.load()

    def lose_power(self) -> None:
        """Its files as they are at this instant, without whoever had them open."""
        super().lose_power()
        for file in (self._folder / "run").iterdir():
            file.unlink()
        self._images += 1
        folder = self._folder / str(self._images)
        folder.mkdir()
        for file in self._path.parent.glob("store.sqlite*"):
            shutil.copyfile(file, folder / file.name)
        if self._store is not None:
            self._store.close()
        self._store = None
        self._path = folder / "store.sqlite"

    def damage(self) -> None:
        """The file is truncated, and its log lost."""
        super().damage()
        if self._store is not None:
            self._store.close()
            self._store = None
        for file in self._path.parent.glob("store.sqlite-*"):
            file.unlink()
        size = self._path.stat().st_size
        with self._path.open("r+b") as file:
            file.truncate(size // 2)

    def close(self) -> None:
        if self._store is not None:
            self._store.close()
        shutil.rmtree(self._folder, ignore_errors=True)


def _taken_back(row: Record) -> bool:
    """What a start need not hear of any more; of notes it hears the newest only."""
    match row:
        case (
            SoundingRow(how="void") | MissRow(why="") | QuietRow(until=0) | FollowRow(plan="usual")
        ):
            return True
        case FaultRow(until=until, acknowledged=True):
            return until != 0
        case _:
            return isinstance(row, NoteRow)


def disk_of(week: Week) -> Callable[[int], Disk]:
    """The controller's own store in some of the weeks."""
    return Card if week.real_store else Disk
