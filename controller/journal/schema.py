"""The store's tables, how an older store is brought up to them, and how one is set aside.

A new table or column is a new step at the end of STEPS; a step that was released never changes.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from controller.journal.faults import StoreFault, StoreNewer
from controller.journal.sums import know_sums

APPLICATION = 0x556E6472  # "Undr", in the file's header: tells our store from any other database
MOST_COPIES = 99
BESIDE = ("-wal", "-shm", "-journal")  # what SQLite keeps beside a file, by ending
Step = tuple[str, ...]  # statements, carried out in one transaction with all other steps

# An impulse changes one row of `stamp` and one of `lines`: two small pages. Rows that are only
# added (soundings, misses, notes) are kept apart from these.
_VERSION_1: Step = (
    """CREATE TABLE stamp (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        utc INTEGER NOT NULL, mono INTEGER NOT NULL, boot TEXT NOT NULL,
        trusted INTEGER NOT NULL CHECK (trusted IN (0, 1)),
        settled INTEGER, fence INTEGER, next_play INTEGER NOT NULL
    ) STRICT""",
    """CREATE TABLE lines (
        line TEXT PRIMARY KEY,
        read INTEGER NOT NULL CHECK (read IN (0, 1)), shown INTEGER NOT NULL,
        positions INTEGER NOT NULL,
        polarity TEXT NOT NULL CHECK (polarity IN ('+', '-')),
        doubtful INTEGER NOT NULL CHECK (doubtful IN (0, 1)),
        held INTEGER NOT NULL CHECK (held IN (0, 1)),
        last_utc INTEGER NOT NULL,
        step_play INTEGER,  -- this and what follows: NULL where no impulse is out
        step_polarity TEXT CHECK (step_polarity IN ('+', '-', '')),
        step_start_utc INTEGER, step_start_mono INTEGER, step_boot TEXT,
        step_counts INTEGER CHECK (step_counts IN (0, 1)),
        step_again INTEGER CHECK (step_again IN (0, 1))
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE soundings (
        play INTEGER PRIMARY KEY, zone TEXT NOT NULL, due INTEGER NOT NULL,
        start_utc INTEGER NOT NULL, start_mono INTEGER NOT NULL, boot TEXT NOT NULL,
        edges TEXT NOT NULL,  -- JSON: ns from the start, closing, opening, closing …
        rings TEXT NOT NULL,  -- JSON: dates and times as written
        says TEXT NOT NULL, by TEXT NOT NULL,
        how TEXT NOT NULL CHECK (how IN ('begun', 'done', 'cut'))
    ) STRICT""",
    "CREATE INDEX soundings_by_time ON soundings (start_utc)",
    "CREATE INDEX soundings_not_ended ON soundings (play) WHERE how = 'begun'",
    """CREATE TABLE misses (
        number INTEGER PRIMARY KEY, zone TEXT NOT NULL, written TEXT NOT NULL,
        due INTEGER NOT NULL, why TEXT NOT NULL,
        withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
        UNIQUE (zone, written)
    ) STRICT""",
    "CREATE INDEX misses_by_time ON misses (due)",
    """CREATE TABLE miss_counts (
        first_due INTEGER PRIMARY KEY, last_due INTEGER NOT NULL,
        rings INTEGER NOT NULL, why TEXT NOT NULL
    ) STRICT""",
    "CREATE TABLE quiet (zone TEXT PRIMARY KEY, until INTEGER NOT NULL, who TEXT NOT NULL) STRICT",
    "CREATE TABLE follow (day TEXT PRIMARY KEY, plan TEXT NOT NULL, who TEXT NOT NULL) STRICT",
    """CREATE TABLE notes (
        number INTEGER PRIMARY KEY, utc INTEGER NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX notes_by_time ON notes (utc)",
)

_VERSION_2: Step = (
    # With rowids: without them a page of 512 bytes takes some 100 bytes of a row and puts the rest
    # on further pages, so that a line with a long name cost four pages an impulse.
    """CREATE TABLE lines_with_rowids (
        line TEXT PRIMARY KEY,
        read INTEGER NOT NULL CHECK (read IN (0, 1)), shown INTEGER NOT NULL,
        positions INTEGER NOT NULL,
        polarity TEXT NOT NULL CHECK (polarity IN ('+', '-')),
        polarity_known INTEGER NOT NULL CHECK (polarity_known IN (0, 1)),
        doubtful INTEGER NOT NULL CHECK (doubtful IN (0, 1)),
        held INTEGER NOT NULL CHECK (held IN (0, 1)),
        target INTEGER NOT NULL CHECK (target >= -1),
        last_utc INTEGER NOT NULL,
        step_play INTEGER,  -- this and what follows: NULL where no impulse is out
        step_polarity TEXT CHECK (step_polarity IN ('+', '-', '')),
        step_start_utc INTEGER, step_start_mono INTEGER, step_boot TEXT,
        step_counts INTEGER CHECK (step_counts IN (0, 1)),
        step_again INTEGER CHECK (step_again IN (0, 1))
    ) STRICT""",
    # Until now a polarity was known wherever the dials were.
    """INSERT INTO lines_with_rowids SELECT
        line, read, shown, positions, polarity, read, doubtful, held, -1, last_utc, step_play,
        step_polarity, step_start_utc, step_start_mono, step_boot, step_counts, step_again
        FROM lines""",
    "DROP TABLE lines",
    "ALTER TABLE lines_with_rowids RENAME TO lines",
    """CREATE TABLE faults (
        name TEXT PRIMARY KEY, says TEXT NOT NULL,
        since INTEGER NOT NULL, until INTEGER NOT NULL,
        acknowledged INTEGER NOT NULL CHECK (acknowledged IN (0, 1))
    ) STRICT""",
    """CREATE TABLE trust (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        boot TEXT NOT NULL, utc INTEGER NOT NULL, who TEXT NOT NULL
    ) STRICT""",
    "ALTER TABLE soundings ADD COLUMN era INTEGER NOT NULL DEFAULT 0",
    "CREATE TABLE eras (number INTEGER PRIMARY KEY, began INTEGER NOT NULL) STRICT",
)

# A sum in each row, over the columns named here (sums.py). SQLite wants a default for a column that
# is added; no row keeps it.
_SUMMED = {
    "stamp": "utc, mono, boot, trusted, settled, fence, next_play",
    "lines": "line, read, shown, positions, polarity, doubtful, held, last_utc, polarity_known, "
    "target, step_play, step_polarity, step_start_utc, step_start_mono, step_boot, step_counts, "
    "step_again",
    "soundings": "play, zone, due, start_utc, start_mono, boot, edges, rings, says, by, how, era",
    "misses": "zone, written, due, why, withdrawn",
    "miss_counts": "rings, first_due, last_due, why",
    "quiet": "zone, until, who",
    "follow": "day, plan, who",
    "notes": "number, utc, who, text",
    "faults": "name, says, since, until, acknowledged",
    "eras": "number, began",
    "trust": "boot, utc, who",
}
_VERSION_3: Step = tuple(
    statement
    for table, columns in _SUMMED.items()
    for statement in (
        f"ALTER TABLE {table} ADD COLUMN sum INTEGER NOT NULL DEFAULT -1",
        f"UPDATE {table} SET sum = row_sum({columns})",
    )
)

STEPS: tuple[Step, ...] = (_VERSION_1, _VERSION_2, _VERSION_3)


def refuse_newer(path: Path, newest: int) -> None:
    """Raise `StoreNewer` where the file's header tells a schema above `newest`.

    It only reads, and without SQLite: opening would write (a log, an index of it), for which a
    full disk has no room, and closing would fold a log. (A version that is only in the log as yet
    is found by `refuse_foreign`.) Not while a connection is open, as closing any handle of the
    file would drop SQLite's locks.
    """
    if not path.exists():
        return
    with path.open("rb") as file:
        header = file.read(72)
    version, application = (int.from_bytes(header[at : at + 4]) for at in (60, 68))
    if application == APPLICATION:
        _refuse_above(path, version, newest)


def refuse_foreign(db: sqlite3.Connection, path: Path, newest: int) -> None:
    """Raise `StoreFault` where `db` is not ours, `StoreNewer` where its schema is above `newest`
    and only its log tells so.
    """
    version, application, tables = _identity(db)
    if application != APPLICATION and (application or version or tables):
        raise StoreFault(
            f"{path}: is a database, but not a store of this program; it was left untouched. "
            "Name another file for the store"
        )
    _refuse_above(path, version, newest)


def _refuse_above(path: Path, version: int, newest: int) -> None:
    if version > newest:
        raise StoreNewer(
            f"{path}: its schema is version {version}, and this program knows versions up to "
            f"{newest}; it was left untouched. Install the newer program again, or bring back a "
            f"copy named {path.name}.before-v…"
        )


def migrate(db: sqlite3.Connection, path: Path, steps: Sequence[Step]) -> None:
    """Bring the store to the schema after the last of `steps`, in one transaction or not at all.

    A store that already has a schema is copied beside, as `<name>.before-v<N>`, first.
    Raises `StoreFault`, `sqlite3.Error` or `OSError`; the store is then as it was.
    """
    version = version_of(db)
    if version == len(steps):
        return
    copy = _copy_beside(db, path, len(steps)) if version else None
    try:
        bring_up(db, steps)
    except sqlite3.Error:
        if copy is not None:
            copy.unlink()
        raise


def bring_up(db: sqlite3.Connection, steps: Sequence[Step]) -> None:
    """Carry out those of `steps` that are lacking, in one transaction or not at all. From then on
    the connection knows `row_sum`, without which no row can be put.

    Raises `sqlite3.Error`.
    """
    know_sums(db)
    version = version_of(db)
    try:
        db.execute("BEGIN IMMEDIATE")
        for step in steps[version:]:
            for statement in step:
                db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION}")
        db.execute(f"PRAGMA user_version = {len(steps)}")
        db.execute("COMMIT")
    except sqlite3.Error:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def version_of(db: sqlite3.Connection) -> int:
    """The schema's version; 0: there is none yet. Raises `sqlite3.Error`."""
    return _identity(db)[0]


def set_aside(path: Path, ending: str = "damaged") -> Path:
    """Give a store, and what SQLite keeps beside it, another name: `<name>.<ending>`, numbered
    where need be. Returns that name.

    Nothing is overwritten. No connection may be open. Raises `StoreFault` where it cannot be done.
    """
    aside = _free_name(path, ending)
    try:
        # The store first: SQLite never reads a log into a store that is not there.
        os.rename(path, aside)
        for suffix in BESIDE:
            beside = path.with_name(path.name + suffix)
            if beside.exists():
                os.rename(beside, aside.with_name(aside.name + suffix))
        sync_folder(path.parent)
    except OSError as error:
        raise StoreFault(f"{path}: could not be set aside as {aside.name}: {error}") from error
    return aside


def sync_folder(folder: Path) -> None:
    """Make what was named or renamed in `folder` outlast a power cut. Raises `OSError`."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _identity(db: sqlite3.Connection) -> tuple[int, int, int]:
    """Schema version, application, and how many tables there are."""
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (application,) = db.execute("PRAGMA application_id").fetchone()
    (tables,) = db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    return int(version), int(application), int(tables)


def _copy_beside(db: sqlite3.Connection, path: Path, version: int) -> Path:
    copy = _free_name(path, f"before-v{version}")
    target = sqlite3.connect(copy, isolation_level=None)
    try:
        db.backup(target)
    except sqlite3.Error:
        target.close()
        copy.unlink(missing_ok=True)
        raise
    target.close()
    sync_folder(copy.parent)
    return copy


def _free_name(path: Path, ending: str) -> Path:
    """The first name beside `path` that is not taken: `<name>.<ending>`, `<name>.<ending>-2` …"""
    for number in range(1, MOST_COPIES + 1):
        tail = ending if number == 1 else f"{ending}-{number}"
        candidate = path.with_name(f"{path.name}.{tail}")
        if not candidate.exists():
            return candidate
    raise StoreFault(
        f"{path}: there are {MOST_COPIES} files named {path.name}.{ending}… already; "
        "move them elsewhere"
    )
