"""Lines that the bench moves become unread in the store, before they move (design rule 14).

The store is held while the bench goes on, so that no daemon begins meanwhile with what is not so
any more. Where there is none there is nothing that could be believed.
"""

from __future__ import annotations

import time
from pathlib import Path

from controller.engine.records import LineRow, NoteRow, Record
from controller.journal.faults import StoreFault, StoreHeld
from controller.journal.mirror import Mirror
from controller.journal.store import Store
from controller.timekeeping.kernel import boot_id

STORE = "store.sqlite"
MIRROR = "unstored.json"


class Belief:
    """What is believed of the lines."""

    def __init__(self, state: Path, runtime: Path, who: str) -> None:
        """Open the store of this state folder, if one is there. Raises `StoreFault`, in words."""
        self._who = who
        self._mirror = Mirror(runtime / MIRROR, boot_id())
        self.unread: dict[str, None] = {}  # lines that were moved, in their order
        path = state / STORE
        try:
            self._store = Store(path) if path.exists() else None
        except StoreHeld:
            raise StoreHeld(
                f"{path}: a daemon has it open, and holds the pins. End the daemon first "
                "(systemctl stop understudy, or Ctrl-C where it runs), then try again."
            ) from None

    @property
    def stored(self) -> bool:
        """Whether there is a store at all."""
        return self._store is not None

    def moves(self, line: str) -> None:
        """A line is about to be moved. It is unread from now on. Raises `StoreFault`."""
        if line in self.unread:
            return
        kept = [_unread(one, line) for one in self._mirrored()]
        if kept:
            self._mirror.write(kept)
        if self._store is not None:
            records = self._store.load()
            rows = [_unread(row, line) for row in records if _is(row, line)]
            newest = max((row.number for row in records if isinstance(row, NoteRow)), default=0)
            text = f"{line}: moved by a bench test, and unread"
            note = NoteRow(newest + 1, time.time_ns(), self._who, text)
            self._store.commit([*rows, note])
        self.unread[line] = None

    def close(self) -> None:
        """Let go of the store."""
        if self._store is not None:
            self._store.close()

    def _mirrored(self) -> list[Record]:
        """What a daemon could not store; nothing where that makes no sense, for nobody uses it."""
        try:
            return self._mirror.read()
        except StoreFault:
            return []


def _is(record: Record, line: str) -> bool:
    return isinstance(record, LineRow) and record.line == line


def _unread(record: Record, line: str) -> Record:
    """The row of that line as unread, like the order `moved` leaves it; others as they are."""
    if not isinstance(record, LineRow) or record.line != line:
        return record
    return record._replace(read=False, doubtful=False, polarity_known=False, step=None, target=-1)
