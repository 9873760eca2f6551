"""What can go wrong with the store, in words for people."""

from __future__ import annotations

import errno
import os
import sqlite3
from pathlib import Path


class StoreFault(Exception):
    """The store could not do what was asked; nothing of it is half-stored. Says what to do."""


class StoreDamaged(StoreFault):
    """What is stored cannot be read. `set_aside` gives it another name, so that storing goes on."""


class StoreHeld(StoreFault):
    """Another program has the store open: another daemon, most likely."""


class StoreNewer(StoreFault):
    """The store was written by a newer version of the program, and was left untouched."""


class RecordRefused(StoreFault):
    """A record holds what no store may hold, today or later: a fault of the program."""


_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_KINDS = {
    sqlite3.SQLITE_CONSTRAINT: RecordRefused,
    sqlite3.SQLITE_BUSY: StoreHeld,
    sqlite3.SQLITE_LOCKED: StoreHeld,
}
_WORDS = {
    sqlite3.SQLITE_FULL: "the disk is full; make room on it",
    sqlite3.SQLITE_READONLY: "it may only be read; check its owner, and that the disk is not "
    "mounted read-only",
    sqlite3.SQLITE_PERM: "it may not be written; check its owner",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened; check that its folder exists and may be written",
    sqlite3.SQLITE_BUSY: "another program holds it; end that program",
    sqlite3.SQLITE_LOCKED: "another program holds it; end that program",
    sqlite3.SQLITE_IOERR: "the disk does not answer as it should; look at the system's log, and "
    "consider a new card",
    sqlite3.SQLITE_CONSTRAINT: "a record holds what no store may hold; report this as a fault of "
    "the program",
}


def fault_of(path: Path, failed: str, error: Exception) -> StoreFault:
    """The fault behind an error of SQLite or of the system: file, what failed, what to do.

    `failed` is what could not be done, as in "could not store".
    """
    if isinstance(error, StoreFault):
        return error
    if isinstance(error, OSError):
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            words = _WORDS[sqlite3.SQLITE_FULL]
        elif error.errno == errno.EROFS:
            words = _WORDS[sqlite3.SQLITE_READONLY]
        else:
            words = os.strerror(error.errno or 0)
        return StoreFault(f"{path}: {failed}: {words}")
    if isinstance(error, UnicodeEncodeError | OverflowError):  # out of range for any store
        return RecordRefused(f"{path}: {failed}: {_WORDS[sqlite3.SQLITE_CONSTRAINT]} ({error})")
    # Without a code of SQLite's it is a value that was read and makes no sense.
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
    if code == sqlite3.SQLITE_IOERR and path.exists() and not os.access(path, os.W_OK):
        code = sqlite3.SQLITE_READONLY  # what SQLite itself does not tell apart
    if code in _DAMAGED:
        return StoreDamaged(f"{path}: {failed}: the file is damaged, or is not a store ({error})")
    kind = _KINDS.get(code, StoreFault)
    return kind(f"{path}: {failed}: {_WORDS.get(code, 'SQLite refused')} ({error})")
