"""A store that cannot be opened: what can be read of it nevertheless, and what says so to all."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from controller.engine.records import Record
from controller.journal.faults import StoreFault
from controller.journal.logbook import LogbookEntry
from controller.journal.store import Store


class ShutStore:
    """Stands in the store's place: refuses everything with the fault that kept it shut."""

    def __init__(self, fault: StoreFault) -> None:
        self._fault = fault

    def commit(self, records: Sequence[Record]) -> NoReturn:
        raise self._fault

    def fitting(self, records: Sequence[Record]) -> NoReturn:
        raise self._fault

    def logbook(self, since_utc: int, until_utc: int, limit: int) -> list[LogbookEntry]:
        raise self._fault

    def draw(self, part: Path, between: Callable[[], None]) -> NoReturn:
        raise self._fault

    def prune(self, before_utc: int) -> int:
        return 0

    def fold(self) -> None:
        """There is nothing to fold."""

    def close(self) -> None:
        """There is nothing to close."""


def read_anyway(path: Path, folder: Path) -> list[Record]:
    """What a store holds that may not be written, read from a copy in `folder`.

    Raises `StoreFault` where it cannot be read either, or is newer than this program.
    """
    copy = folder / "read-only-copy.sqlite"
    parts = [(path.with_name(path.name + end), Path(f"{copy}{end}")) for end in ("", "-wal")]
    try:
        for part, its_copy in parts:
            its_copy.unlink(missing_ok=True)
            if part.exists():
                shutil.copyfile(part, its_copy)
        if not copy.exists():
            return []
        store = Store(copy)
        try:
            return store.load()
        finally:
            store.close()
    except OSError as fault:
        raise StoreFault(f"{path}: cannot be read either ({fault.strerror or fault})") from fault
    finally:
        for end in ("", "-wal", "-shm"):
            Path(f"{copy}{end}").unlink(missing_ok=True)
