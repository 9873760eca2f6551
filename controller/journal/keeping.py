"""Copies of the store for safe keeping, and a store made from one for a machine that has none.

A copy is one plain file. It is drawn while the store is at work, a few pages at a time: what is
committed meanwhile through the same connection SQLite writes into the copy as well, so that it is
of the instant at which it is whole. It has its name only once it was checked and flushed.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from controller.engine.records import LineRow, NoteRow, Record, Stamp, TrustRow
from controller.journal import rows, schema
from controller.journal.faults import StoreDamaged, StoreFault, fault_of

DRAWN_PAGES = 128  # 64 KiB between two looks whether a commit waits
# What SQLite locks of an open store: file format, "The Lock-Byte Page".
_LOCK_AT, _LOCK_BYTES = 0x4000_0000, 512
_NO_BOOT = "restored"  # the boot of no machine, so that the next start is the fence (rule 7)


class Restored(NamedTuple):
    """What a restore came to."""

    stamped_utc: int | None  # when the newest batch of the copy was decided; None: it had none
    replaced: Path | None  # the name that the store which was there has now
    lines: tuple[str, ...]  # unread now: somebody has to say what their dials show


# ── copies ───────────────────────────────────────────────────────────────────────────────────────


def copy(db: sqlite3.Connection, path: Path) -> None:
    """Put what `db` holds into `path`, a file that must not be there yet. Raises `StoreFault`;
    nothing is at `path` then.
    """
    refuse_taken(path)
    part = part_of(path)
    try:
        draw(db, part, lambda: None)
        seal(part, path)
    finally:
        remove(part)


def refuse_taken(path: Path) -> None:
    """Raise `StoreFault` where there is something of that name already."""
    if path.exists():
        raise StoreFault(f"{path}: is there already, and is not overwritten; name another file")


def part_of(path: Path) -> Path:
    """Where a copy is drawn that will be `path`."""
    return path.with_name(path.name + ".part")


def draw(db: sqlite3.Connection, part: Path, between: Callable[[], None]) -> None:
    """Draw a copy of what `db` holds into `part`, and call `between` after every few pages.

    `between` may commit through `db`; what it raises ends the drawing and is raised here. The copy
    is neither checked nor flushed yet: see `seal`. Raises `StoreFault`, which names `part`.
    """

    def drawn(status: int, left: int, pages: int) -> None:
        if status == sqlite3.SQLITE_OK:
            between()
        elif status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):  # else tried without an end
            raise StoreFault(f"{part}: another program holds it; name another file for the copy")

    remove(part)
    try:
        with closing(sqlite3.connect(part, isolation_level=None)) as target:
            target.execute("PRAGMA journal_mode = OFF")  # a copy cut short is thrown away
            target.execute("PRAGMA synchronous = OFF")
            target.execute("PRAGMA cache_size = -256")  # KiB; so that the last step is short too
            db.backup(target, pages=DRAWN_PAGES, progress=drawn, sleep=0)
    except (sqlite3.Error, OSError) as error:
        raise fault_of(part, "could not hold a copy of the store", error) from error


def seal(part: Path, path: Path) -> None:
    """Check a copy that was drawn, flush it, and name it `path`. On any thread.

    Raises `StoreDamaged` where what was copied has damaged pages, or `StoreFault`.
    """
    try:
        with closing(sqlite3.connect(part, isolation_level=None)) as db:
            db.execute("PRAGMA journal_mode = DELETE")  # else whoever reads it needs a log beside
            _check(db, "quick_check")
        _flush(part)
        refuse_taken(path)
        os.rename(part, path)
        schema.sync_folder(path.parent)
    except (sqlite3.Error, OSError) as error:
        fault = fault_of(path, "could not become a copy of the store", error)
        if isinstance(fault, StoreDamaged):
            fault = StoreDamaged(f"{path}: no copy was made: the store has damaged pages ({error})")
        raise fault from error


# ── a store from a copy ──────────────────────────────────────────────────────────────────────────


def utc_words(utc: int) -> str:
    """An instant (ns) for people: "2026-11-25 12:30 UTC"."""
    return f"{datetime.fromtimestamp(utc // 1_000_000_000, UTC):%Y-%m-%d %H:%M} UTC"


def restore(
    copy: Path, store: Path, now_utc: int, time_words: Callable[[int], str] = utc_words
) -> Restored:
    """Make `store` from a copy, or from a store with its log beside, of this or an older schema.

    Kept are identities (what was rung and missed), lasting orders, notes, faults and lines that are
    held; all lines are unread, and nobody vouches for the clock. A store that is there is set aside
    as `<name>.replaced`. `now_utc` (ns) and `time_words` are for the note about it.

    Not for a process that has a store open. Raises `StoreFault` in words where a daemon has the
    store open, or where the copy is no store, is of a newer version, or damaged (`StoreNewer`,
    `StoreDamaged`); nothing has changed then.
    """
    beside = store.with_name(store.name + ".restoring")
    try:
        with _unheld(store):
            remove(beside)
            _fetch(copy, store, beside)
            restored = _made_unread(copy, beside, now_utc, time_words)
            _flush(beside)
            replaced = _set_aside(store)
            _take_place(beside, store)
    except (sqlite3.Error, OSError, ValueError, OverflowError) as error:
        raise fault_of(store, f"could not be restored from {copy}", error) from error
    finally:
        with suppress(OSError):
            remove(beside)
    return restored._replace(replaced=replaced)


def _fetch(copy: Path, store: Path, beside: Path) -> None:
    """Copy the copy, and its log where it has one, to where it may be changed."""
    if not store.parent.is_dir():
        raise StoreFault(f"{store}: its folder is not there; make it, or name another")
    if not copy.is_file():
        raise StoreFault(f"{copy}: there is no such file; name a copy of the store")
    if store.exists() and copy.samefile(store):
        raise StoreFault(f"{copy}: is the store itself; name a copy of it")
    with _unheld(copy):
        shutil.copyfile(copy, beside)
        log = copy.with_name(copy.name + "-wal")
        if log.exists():
            shutil.copyfile(log, beside.with_name(beside.name + "-wal"))


def _made_unread(
    copy: Path, beside: Path, now_utc: int, time_words: Callable[[int], str]
) -> Restored:
    """Bring what was fetched up to date and make all its lines unread. `copy` is for messages."""
    try:
        with closing(sqlite3.connect(beside, isolation_level=None)) as db:
            db.execute("PRAGMA journal_mode = DELETE")  # takes in a log that came with it
            schema.refuse_foreign(db, copy, len(schema.STEPS))
            if schema.version_of(db) == 0:
                raise StoreFault(f"{copy}: is empty; name a copy of the store")
            _check(db, "integrity_check")
            schema.bring_up(db, schema.STEPS)
            held = list(rows.newest(db))  # as a daemon that starts with it would read it
            stamped = max((one.utc for one in held if isinstance(one, Stamp)), default=None)
            db.execute("BEGIN")
            for record in (*_without_dials(held), _note(held, stamped, now_utc, time_words)):
                rows.put(db, record)
            db.execute("COMMIT")
            lines = sorted(one.line for one in held if isinstance(one, LineRow))
    except (sqlite3.Error, ValueError, OverflowError) as error:
        fault = fault_of(copy, "could not be restored", error)
        if isinstance(fault, StoreDamaged):
            raise fault from error
        raise  # of the disk on which it is made
    return Restored(stamped, None, tuple(lines))


def _without_dials(held: Sequence[Record]) -> Iterator[Record]:
    """What of a copy holds no longer: its dials went on without it, and so did its clock."""
    for record in held:
        match record:
            case Stamp():
                yield record._replace(boot=_NO_BOOT)
            case TrustRow():
                yield record._replace(boot="", who="")
            case LineRow():
                yield LineRow(
                    record.line, False, 0, record.positions, "-", False, record.held, None,
                    record.last_utc, polarity_known=False,
                )  # fmt: skip
            case _:
                pass


def _note(
    held: Sequence[Record], stamped: int | None, now_utc: int, time_words: Callable[[int], str]
) -> NoteRow:
    """A line of the logbook that tells what it is."""
    last = max((one.number for one in held if isinstance(one, NoteRow)), default=0)
    when = "an unknown time" if stamped is None else time_words(stamped)
    # A clock that is behind would hide it among what is old.
    at = now_utc if stamped is None else max(now_utc, stamped)
    return NoteRow(last + 1, at, "", f"restored from a backup of {when}; all lines are unread")


def _set_aside(store: Path) -> Path | None:
    """Make room for another store. Returns the name that the one which was there has now."""
    replaced = schema.set_aside(store, "replaced") if store.exists() else None
    for suffix in schema.BESIDE:  # of a store that is gone: SQLite would read it into this one
        stray = store.with_name(store.name + suffix)
        if stray.exists():
            schema.set_aside(stray, "replaced")
    return replaced


def _take_place(beside: Path, store: Path) -> None:
    """Give what was made the store's name; it replaces nothing that a daemon began meanwhile."""
    owner = store.parent.stat()
    with suppress(PermissionError):  # restored by root, and yet the daemon's to write
        os.chown(beside, owner.st_uid, owner.st_gid)
    try:
        os.link(beside, store)  # unlike a rename, which would replace
    except FileExistsError:
        raise StoreFault(
            f"{store}: a daemon has begun a new store meanwhile; end it, and restore again"
        ) from None
    schema.sync_folder(store.parent)


@contextmanager
def _unheld(path: Path) -> Iterator[None]:
    """Nobody has `path` open as a store, nor can anybody open it until this ends."""
    if not path.exists():
        yield
        return
    with path.open("rb") as file:
        try:
            fcntl.lockf(file, fcntl.LOCK_SH | fcntl.LOCK_NB, _LOCK_BYTES, _LOCK_AT)
        except (BlockingIOError, PermissionError):
            raise StoreFault(
                f"{path}: a daemon has it open; end the daemon first, and try again"
            ) from None
        yield


def remove(part: Path) -> None:
    """Remove what a copy that was not finished left behind, if anything. Raises `OSError`."""
    for suffix in ("", *schema.BESIDE):
        part.with_name(part.name + suffix).unlink(missing_ok=True)


def _check(db: sqlite3.Connection, check: str) -> None:
    (state,) = db.execute(f"PRAGMA {check}(1)").fetchone()
    if state != "ok":
        raise sqlite3.DatabaseError(state)


def _flush(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
