"""What the bench did, told to the store: lines it moves are unread, and bells it rang count.

A line is unread before it moves (design rule 14). What a zone's relay was closed for in the bench's
last minute is stored as it ends, as a sounding by hand, so that a daemon started at once keeps
within `a_minute` (rule 8). A bench that is killed outright stores none of that.

The store is held while the bench goes on, so that no daemon begins meanwhile with what is not so
any more. Where there is none there is nothing that could be believed.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from controller.engine.records import (
    EraRow,
    LineRow,
    NoteRow,
    Record,
    SoundingRow,
    Stamp,
    StepRow,
)
from controller.journal.faults import StoreFault, StoreHeld
from controller.journal.mirror import Mirror
from controller.journal.store import Store
from controller.timekeeping.kernel import boot_id
from controller.timetable.contact import Closing

STORE = "store.sqlite"
MIRROR = "unstored.json"
_SAYS = "bench test, its last minute"


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

    def rang(self, closings: Mapping[str, Sequence[Closing]]) -> None:
        """Zones' relays were closed so (mono), in order. Raises `StoreFault`."""
        if self._store is None or not closings:
            return
        records = [*self._store.load(), *self._mirrored()]
        ahead = time.time_ns() - time.monotonic_ns()
        era = max((row.number for row in records if isinstance(row, EraRow)), default=0)
        rows = [
            _sounding(play, zone, given, ahead, self._who)._replace(era=era)
            for play, (zone, given) in enumerate(closings.items(), _next_play(records))
        ]
        self._store.commit(rows)

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


def _sounding(play: int, zone: str, given: Sequence[Closing], ahead: int, who: str) -> SoundingRow:
    """As a ring by hand that has ended; `ahead`: the system's clock less the monotonic one."""
    start = given[0][0]
    edges = tuple(instant - start for closing in given for instant in closing)
    utc = start + ahead
    return SoundingRow(play, zone, utc, utc, start, boot_id(), edges, (), _SAYS, who, "done")


def _next_play(records: Iterable[Record]) -> int:
    """The first number that no play has."""
    numbers = [1]
    for record in records:
        match record:
            case Stamp():
                numbers.append(record.next_play)
            case SoundingRow():
                numbers.append(record.play + 1)
            case LineRow(step=StepRow(play=play)):
                numbers.append(play + 1)
    return max(numbers)


def _is(record: Record, line: str) -> bool:
    return isinstance(record, LineRow) and record.line == line


def _unread(record: Record, line: str) -> Record:
    """The row of that line as unread, like the order `moved` leaves it; others as they are."""
    if not isinstance(record, LineRow) or record.line != line:
        return record
    return record._replace(read=False, doubtful=False, polarity_known=False, step=None, target=-1)
