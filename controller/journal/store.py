"""The store: one SQLite file that outlasts a crash and a power cut.

Every commit is one transaction and one flush of the write-ahead log (WAL, synchronous = FULL).
What an impulse costs is kept small by three things:

- small pages: an impulse changes two rows, and so two pages of 512 bytes;
- a log of its full length from the start: SQLite writes it from the beginning again once it was
  folded into the store, so a commit overwrites blocks that the file has, and the file system has
  nothing of its own to write. The zeros that lengthen the log are no valid frames; recovery stops
  before them. It is also the room for a day of impulses when the disk is full;
- the store is held by this one connection (locking_mode = EXCLUSIVE), so there is no shared
  index file to be written back. Nobody else can read it meanwhile; the daemon is asked instead.

The log is folded into the store (a checkpoint) by `fold`, between commits, not within them.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from controller.engine.records import Record
from controller.journal import keeping, logbook, rows, schema
from controller.journal.faults import StoreFault, fault_of
from controller.journal.log_sums import break_of
from controller.journal.sums import know_sums

PAGE_BYTES = 512
FRAME_BYTES = PAGE_BYTES + 24
# A day of the busiest single line: an impulse every 30 s, stored as begun and again as ended, two
# pages each: 2,880 × 2 × 2 frames are 6.2 MB. The log holds these beyond what waits to be folded.
ROOM_BYTES = 8 * 1024 * 1024
FOLD_AFTER_COMMITS = 200
FOLD_AT_FRAMES = 1_500  # within a commit, in case nobody folds
BUSY_SECONDS = 2.0
PRUNE_ROWS = 500
_UNFIT = (
    sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.InterfaceError, ValueError,
    OverflowError, TypeError, AttributeError, AssertionError,
)  # fmt: skip
OLDEST_SQLITE = (3, 38)  # STRICT tables, JSON built in


class Store:
    """The open store. It belongs to the thread that opened it; no other may use it."""

    def __init__(self, path: Path, steps: Sequence[schema.Step] = schema.STEPS) -> None:
        """Open the store, make it where there is none, bring an older one up to date.

        Raises `StoreNewer` (left untouched), `StoreDamaged` (see `schema.set_aside`), or
        `StoreFault` for anything else, another program holding it among them.
        """
        self.path = path
        self._log = path.with_name(path.name + "-wal")
        self._commits = FOLD_AFTER_COMMITS  # since the log was folded; an unclean end leaves some
        self._folded = False
        self._db = _open(path, steps)
        # At once, so that the file's header tells its version; where it fails, `room_ready` says
        # so, and a later fold tries again.
        with suppress(StoreFault):
            self.fold()

    def close(self) -> None:
        """Fold the log and let go of the file. What was committed is safe, close or not."""
        self._db.close()

    def commit(self, records: Sequence[Record]) -> None:
        """Store all of `records`, so that they outlast a power cut from here on; or none of them.

        Raises `StoreFault` where they were not stored, or are on a disk that nobody writes to.
        """
        self._commits += 1
        with self._in_words("could not store"):
            with self._transaction():
                for record in records:
                    rows.put(self._db, record)
            _refuse_read_only(self.path)

    def fitting(self, records: Sequence[Record]) -> list[Record]:
        """Those of `records` that a store can hold at all, tried one by one; none is stored.

        Raises `StoreFault`.
        """
        fit = []
        with self._in_words("could not try what it can hold"):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                for record in records:
                    with suppress(*_UNFIT):
                        rows.put(self._db, record)
                        fit.append(record)
            finally:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
        return fit

    def load(self) -> list[Record]:
        """The newest records, as `recover` of the engine takes them. Raises `StoreFault`."""
        with self._in_words("could not read"):
            return list(rows.newest(self._db))

    def logbook(
        self, since_utc: int, until_utc: int, limit: int = logbook.MOST_ENTRIES
    ) -> list[logbook.LogbookEntry]:
        """The newest `limit` entries in [since_utc, until_utc) (ns), in time order; see
        `logbook.read`. Raises `StoreFault`.
        """
        with self._in_words("could not read the logbook"):
            return logbook.read(self._db, since_utc, until_utc, limit)

    def prune(self, before_utc: int, most: int = PRUNE_ROWS) -> int:
        """Delete the logbook before `before_utc` (ns), `most` rows at a time; 0: nothing is left.

        Only for a trusted clock. What is never deleted: see `logbook.prune`. The pages stay in
        the file as room for what comes. Raises `StoreFault`.
        """
        self._commits += 1
        with self._in_words("could not shorten the logbook"), self._transaction():
            return logbook.prune(self._db, before_utc, most)

    def copy_to(self, path: Path) -> None:
        """Put a copy of the store into a new file; see `keeping.copy`. Raises `StoreFault`."""
        keeping.copy(self._db, path)

    def draw(self, part: Path, between: Callable[[], None]) -> None:
        """Draw a copy a few pages at a time, with commits in between; see `keeping.draw`. Raises
        `StoreFault`.
        """
        keeping.draw(self._db, part, between)

    def fold(self) -> None:
        """Fold the log into the store if it is time, and make room again where it was lacking.

        To be called after a commit was answered, so that nothing waits for it. Raises `StoreFault`
        where it could not be done: nothing is lost by that, but room is running out.
        """
        if self._commits < FOLD_AFTER_COMMITS:
            return
        self._commits = 0
        self._folded = False
        with self._in_words("could not fold the log into the store"):
            busy, frames, folded = self._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        assert (busy, frames) == (0, folded), "nobody else can hold a part of the log"
        self._folded = True
        self.make_room()

    @property
    def room_ready(self) -> bool:
        """Whether impulses can be stored for at least a day even if the disk is full."""
        try:
            return self._folded and self._log.stat().st_size >= ROOM_BYTES
        except OSError:
            return False

    def make_room(self) -> None:
        """Give the log its full length, in written blocks. Raises `StoreFault` where it cannot."""
        with self._in_words("could not keep room for a day of impulses"):
            handle = os.open(self._log, os.O_WRONLY)
            try:
                _lengthen(handle, ROOM_BYTES)
            finally:
                os.close(handle)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:  # SQLite has rolled back by itself after some errors
                self._db.execute("ROLLBACK")
            raise

    @contextmanager
    def _in_words(self, failed: str) -> Iterator[None]:
        """Turn errors of the file and of what is in it into a `StoreFault`; no errors of ours."""
        try:
            yield
        except (sqlite3.ProgrammingError, sqlite3.InterfaceError):
            raise
        except (sqlite3.Error, OSError, ValueError, OverflowError) as error:
            raise fault_of(self.path, failed, error) from error


def _open(path: Path, steps: Sequence[schema.Step]) -> sqlite3.Connection:
    """The open connection: schema of the last step, all set for durable commits."""
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise StoreFault(
            f"{path}: the store needs SQLite {'.'.join(map(str, OLDEST_SQLITE))} or newer, "
            f"this is {sqlite3.sqlite_version}"
        )
    try:
        schema.refuse_newer(path, len(steps))
        _refuse_broken_log(path)
        db = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)
    except (sqlite3.Error, OSError) as error:
        raise fault_of(path, "could not open the store", error) from error
    know_sums(db)
    try:
        db.execute(f"PRAGMA page_size = {PAGE_BYTES}")  # of a new file; others keep theirs
        db.execute("PRAGMA locking_mode = EXCLUSIVE")
        schema.refuse_foreign(db, path, len(steps))
        _settle(db, path)
        schema.migrate(db, path, steps)
        # Not the quick one, which leaves out the indexes: a third more time (33 ms for 28,000
        # soundings, where the quick one took 24).
        (state,) = db.execute("PRAGMA integrity_check(1)").fetchone()
        if state != "ok":
            raise sqlite3.DatabaseError(state)
    # ValueError: where a bit of the schema is another, sqlite3 cannot even decode its complaint.
    except (sqlite3.Error, OSError, ValueError, StoreFault) as error:
        db.close()
        raise fault_of(path, "could not open the store", error) from error
    return db


def _refuse_read_only(path: Path) -> None:
    """Where the kernel makes a disk read-only under open files, ext4 takes what is written to them
    and answers a flush with success, and nothing reaches the disk (seen; `ext4_sync_file` in
    `fs/ext4/fsync.c`, from memory).
    """
    if os.statvfs(path).f_flag & os.ST_RDONLY:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))


def _refuse_broken_log(path: Path) -> None:
    broken = break_of(path.with_name(path.name + "-wal"))
    if broken:
        raise sqlite3.DatabaseError(broken)


def _settle(db: sqlite3.Connection, path: Path) -> None:
    (mode,) = db.execute("PRAGMA journal_mode = WAL").fetchone()
    if mode != "wal":
        raise StoreFault(f"{path}: no write-ahead log can be kept on this disk; use another")
    db.execute("PRAGMA synchronous = FULL")
    db.execute(f"PRAGMA wal_autocheckpoint = {FOLD_AT_FRAMES}")
    db.execute("PRAGMA journal_size_limit = -1")  # the log keeps its length
    db.execute("PRAGMA auto_vacuum = NONE")
    db.execute("PRAGMA secure_delete = OFF")
    db.execute("PRAGMA temp_store = MEMORY")  # no other file on a full disk


def _lengthen(handle: int, length: int) -> None:
    """Write zeros from the end of the file up to `length`; what was written before stands."""
    zeros = bytes(65_536)
    at = os.fstat(handle).st_size
    if at >= length:
        return
    while at < length:
        at += os.pwrite(handle, zeros[: length - at], at)
    os.fsync(handle)
