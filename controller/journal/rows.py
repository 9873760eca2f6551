"""Records to rows and back. The newest record of a key stands for all before it.

Functions here take an open connection and leave transactions to their caller.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from typing import Any, assert_never

from controller.engine.contract import (
    FollowRow,
    LineRow,
    MissCount,
    MissRow,
    NoteRow,
    QuietRow,
    Record,
    SoundingRow,
    Stamp,
    StepRow,
)

# Read at a start. What the identities guard against (a ring given twice) spans some 26 hours.
NEWEST_SOUNDINGS = 20_000
NEWEST_MISSES = 5_000
NEWEST_COUNTS = 1_000

_STEP_COLUMNS = len(StepRow._fields)
_PUT_STAMP = "INSERT OR REPLACE INTO stamp VALUES (1, ?, ?, ?, ?, ?, ?, ?)"
_PUT_LINE = f"INSERT OR REPLACE INTO lines VALUES (?, ?, ?, ?, ?, ?, ?, ?{', ?' * _STEP_COLUMNS})"
_PUT_SOUNDING = """INSERT INTO soundings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (play) DO UPDATE SET zone = excluded.zone, due = excluded.due,
        start_utc = excluded.start_utc, start_mono = excluded.start_mono, boot = excluded.boot,
        edges = excluded.edges, rings = excluded.rings, says = excluded.says, by = excluded.by,
        how = excluded.how"""
_PUT_MISS = """INSERT INTO misses (zone, written, due, why, withdrawn) VALUES (?, ?, ?, ?, 0)
    ON CONFLICT (zone, written) DO UPDATE SET
        due = excluded.due, why = excluded.why, withdrawn = 0"""
_WITHDRAW_MISS = "UPDATE misses SET withdrawn = 1 WHERE zone = ? AND written = ?"
_PUT_COUNT = "INSERT OR REPLACE INTO miss_counts (rings, first_due, last_due, why) VALUES (?,?,?,?)"

_STAMP = "SELECT utc, mono, boot, trusted, settled, fence, next_play FROM stamp"
_LINES = "SELECT * FROM lines"
_SOUNDINGS = """SELECT * FROM soundings WHERE how = 'begun'
    OR play IN (SELECT play FROM soundings WHERE how != 'begun' ORDER BY play DESC LIMIT ?)"""
_MISSES = """SELECT zone, written, due, why FROM misses WHERE NOT withdrawn
    ORDER BY number DESC LIMIT ?"""
_COUNTS = """SELECT rings, first_due, last_due, why FROM miss_counts
    ORDER BY first_due DESC LIMIT ?"""
_QUIET = "SELECT * FROM quiet"
_FOLLOW = "SELECT * FROM follow"
_NEWEST_NOTE = "SELECT * FROM notes ORDER BY number DESC LIMIT 1"


def put(db: sqlite3.Connection, record: Record) -> None:
    """Write one record over what its key held. Raises `sqlite3.Error`.

    What a record takes back is deleted: a void sounding with its identities, a lifted quiet, a
    date that follows the usual again. A withdrawn miss stays, marked, for the logbook.
    """
    match record:
        case Stamp():
            db.execute(_PUT_STAMP, record)
        case LineRow(step=step):
            flat = step or (None,) * _STEP_COLUMNS
            db.execute(_PUT_LINE, (*record[:7], record.last_utc, *flat))
        case SoundingRow(how="void"):
            db.execute("DELETE FROM soundings WHERE play = ?", (record.play,))
        case SoundingRow():
            edges, rings = json.dumps(record.edges), json.dumps(record.rings)
            db.execute(_PUT_SOUNDING, (*record[:6], edges, rings, *record[8:]))
        case MissRow(why=""):
            db.execute(_WITHDRAW_MISS, (record.zone, record.written))
        case MissRow():
            db.execute(_PUT_MISS, record)
        case MissCount():
            db.execute(_PUT_COUNT, record)
        case QuietRow(until=0):
            db.execute("DELETE FROM quiet WHERE zone = ?", (record.zone,))
        case QuietRow():
            db.execute("INSERT OR REPLACE INTO quiet VALUES (?, ?, ?)", record)
        case FollowRow(plan="usual"):
            db.execute("DELETE FROM follow WHERE day = ?", (record.day,))
        case FollowRow():
            db.execute("INSERT OR REPLACE INTO follow VALUES (?, ?, ?)", record)
        case NoteRow():
            db.execute("INSERT OR REPLACE INTO notes VALUES (?, ?, ?, ?)", record)
        case _:
            assert_never(record)


def newest(db: sqlite3.Connection) -> Iterator[Record]:
    """What a start needs: the stamp, all lines, lasting orders and soundings not ended; the newest
    of soundings that ended, misses and counts, as far back as the limits above; the last note.

    Raises `sqlite3.Error`, or `ValueError` where a row cannot be read.
    """
    yield from map(_stamp, db.execute(_STAMP))
    yield from map(_line, db.execute(_LINES))
    yield from map(_sounding, db.execute(_SOUNDINGS, (NEWEST_SOUNDINGS,)))
    yield from map(MissRow._make, db.execute(_MISSES, (NEWEST_MISSES,)))
    yield from map(MissCount._make, db.execute(_COUNTS, (NEWEST_COUNTS,)))
    yield from map(QuietRow._make, db.execute(_QUIET))
    yield from map(FollowRow._make, db.execute(_FOLLOW))
    yield from map(NoteRow._make, db.execute(_NEWEST_NOTE))


def _stamp(row: tuple[Any, ...]) -> Stamp:
    utc, mono, boot, trusted, settled, fence, next_play = row
    return Stamp(utc, mono, boot, bool(trusted), settled, fence, next_play)


def _line(row: tuple[Any, ...]) -> LineRow:
    line, read, shown, positions, polarity, doubtful, held, last_utc, *flat = row
    step = None
    if flat[0] is not None:
        play, side, start_utc, start_mono, boot, counts, again = flat
        step = StepRow(play, side, start_utc, start_mono, boot, bool(counts), bool(again))
    believed = bool(doubtful), bool(held)
    return LineRow(line, bool(read), shown, positions, polarity, *believed, step, last_utc)


def _sounding(row: tuple[Any, ...]) -> SoundingRow:
    play, zone, due, start_utc, start_mono, boot, edges, rings, says, by, how = row
    given = list_in(edges), list_in(rings)
    return SoundingRow(play, zone, due, start_utc, start_mono, boot, *given, says, by, how)


def list_in(text: str) -> tuple[Any, ...]:
    """The list that a column holds as JSON. Raises `ValueError` where it holds something else."""
    found = json.loads(text)
    if not isinstance(found, list):
        raise ValueError(f"{text!r} is not a list")
    return tuple(found)
