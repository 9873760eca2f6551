"""Records to rows and back. The newest record of a key stands for all before it.

Functions here take an open connection and leave transactions to their caller.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from typing import Any, assert_never

from controller.engine.records import (
    EraRow,
    FaultRow,
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
    TrustRow,
)

# Read at a start. What the identities guard against (a ring given twice) spans some 26 hours.
NEWEST_SOUNDINGS = 20_000
NEWEST_MISSES = 5_000
NEWEST_COUNTS = 1_000
NEWEST_ERAS = 1_000
NEWEST_FAULTS = 1_000  # there are not so many names of faults

_OF_A_LINE = tuple(field for field in LineRow._fields if field != "step")
_OF_A_STEP = tuple(f"step_{field}" for field in StepRow._fields)
_LINE_COLUMNS = (*_OF_A_LINE, *_OF_A_STEP)
_TRUTHS = ("read", "polarity_known", "doubtful", "held")
_NO_STEP = (None,) * len(_OF_A_STEP)

_PUT_STAMP = "INSERT OR REPLACE INTO stamp VALUES (1, ?, ?, ?, ?, ?, ?, ?)"
# An update in place: a row that is replaced would change the index too, a page more an impulse.
_PUT_LINE = f"""INSERT INTO lines ({", ".join(_LINE_COLUMNS)})
    VALUES ({", ".join("?" * len(_LINE_COLUMNS))})
    ON CONFLICT (line) DO UPDATE SET
        {", ".join(f"{name} = excluded.{name}" for name in _LINE_COLUMNS[1:])}"""
_PUT_SOUNDING = """INSERT INTO soundings VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT (play) DO UPDATE SET zone = excluded.zone, due = excluded.due,
        start_utc = excluded.start_utc, start_mono = excluded.start_mono, boot = excluded.boot,
        edges = excluded.edges, rings = excluded.rings, says = excluded.says, by = excluded.by,
        how = excluded.how, era = excluded.era"""
_PUT_MISS = """INSERT INTO misses (zone, written, due, why, withdrawn) VALUES (?, ?, ?, ?, 0)
    ON CONFLICT (zone, written) DO UPDATE SET
        due = excluded.due, why = excluded.why, withdrawn = 0"""
_WITHDRAW_MISS = "UPDATE misses SET withdrawn = 1 WHERE zone = ? AND written = ?"
_PUT_COUNT = "INSERT OR REPLACE INTO miss_counts (rings, first_due, last_due, why) VALUES (?,?,?,?)"
_PUT_FAULT = "INSERT OR REPLACE INTO faults VALUES (?, ?, ?, ?, ?)"
_PUT_TRUST = "INSERT OR REPLACE INTO trust VALUES (1, ?, ?, ?)"

_STAMP = "SELECT utc, mono, boot, trusted, settled, fence, next_play FROM stamp"
_LINES = f"SELECT {', '.join(_LINE_COLUMNS)} FROM lines"
_SOUNDINGS = """SELECT * FROM soundings WHERE how = 'begun'
    OR play IN (SELECT play FROM soundings WHERE how != 'begun' ORDER BY play DESC LIMIT ?)"""
_MISSES = """SELECT zone, written, due, why FROM misses WHERE NOT withdrawn
    ORDER BY number DESC LIMIT ?"""
_COUNTS = """SELECT rings, first_due, last_due, why FROM miss_counts
    ORDER BY first_due DESC LIMIT ?"""
_QUIET = "SELECT * FROM quiet"
_FOLLOW = "SELECT * FROM follow"
_FAULTS = "SELECT * FROM faults ORDER BY since DESC LIMIT ?"
_TRUST = "SELECT boot, utc, who FROM trust"
_ERAS = "SELECT number, began FROM eras ORDER BY number DESC LIMIT ?"
_NEWEST_NOTE = "SELECT * FROM notes ORDER BY number DESC LIMIT 1"


def put(db: sqlite3.Connection, record: Record) -> None:
    """Write one record over what its key held. Raises `sqlite3.Error`.

    What a record takes back is deleted: a void sounding with its identities, a lifted quiet, a
    date that follows the usual again, a fault that ended and was acknowledged (its beginning and
    end are notes). A withdrawn miss stays, marked, for the logbook.
    """
    match record:
        case Stamp():
            db.execute(_PUT_STAMP, record)
        case LineRow(step=step):
            of_the_line = [getattr(record, field) for field in _OF_A_LINE]
            db.execute(_PUT_LINE, (*of_the_line, *(step or _NO_STEP)))
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
        case FaultRow(acknowledged=True) if record.until:
            db.execute("DELETE FROM faults WHERE name = ?", (record.name,))
        case FaultRow():
            db.execute(_PUT_FAULT, record)
        case EraRow():
            db.execute("INSERT OR REPLACE INTO eras VALUES (?, ?)", record)
        case TrustRow():
            db.execute(_PUT_TRUST, record)
        case _:
            assert_never(record)


def newest(db: sqlite3.Connection) -> Iterator[Record]:
    """What a start needs: the stamp, all lines, lasting orders, faults, the word on the clock and
    soundings not ended; the newest of soundings that ended, misses and counts, as far back as the
    limits above; the last note.

    Raises `sqlite3.Error`, or `ValueError` where a row cannot be read.
    """
    yield from map(_stamp, db.execute(_STAMP))
    yield from map(_line, db.execute(_LINES))
    yield from map(_sounding, db.execute(_SOUNDINGS, (NEWEST_SOUNDINGS,)))
    yield from map(MissRow._make, db.execute(_MISSES, (NEWEST_MISSES,)))
    yield from map(MissCount._make, db.execute(_COUNTS, (NEWEST_COUNTS,)))
    yield from map(QuietRow._make, db.execute(_QUIET))
    yield from map(FollowRow._make, db.execute(_FOLLOW))
    yield from map(_fault, db.execute(_FAULTS, (NEWEST_FAULTS,)))
    yield from map(EraRow._make, db.execute(_ERAS, (NEWEST_ERAS,)))
    yield from map(TrustRow._make, db.execute(_TRUST))
    yield from map(NoteRow._make, db.execute(_NEWEST_NOTE))


def _stamp(row: tuple[Any, ...]) -> Stamp:
    utc, mono, boot, trusted, settled, fence, next_play = row
    return Stamp(utc, mono, boot, bool(trusted), settled, fence, next_play)


def _line(row: tuple[Any, ...]) -> LineRow:
    of_the_line = dict(zip(_OF_A_LINE, row, strict=False))
    truths = {name: bool(of_the_line[name]) for name in _TRUTHS}
    return LineRow(**{**of_the_line, **truths}, step=_step(row[len(_OF_A_LINE) :]))


def _step(row: tuple[Any, ...]) -> StepRow | None:
    play, polarity, start_utc, start_mono, boot, counts, again = row
    if play is None:
        return None
    return StepRow(play, polarity, start_utc, start_mono, boot, bool(counts), bool(again))


def _sounding(row: tuple[Any, ...]) -> SoundingRow:
    play, zone, due, start_utc, start_mono, boot, edges, rings, says, by, how, era = row
    given = list_in(edges), list_in(rings)
    return SoundingRow(play, zone, due, start_utc, start_mono, boot, *given, says, by, how, era)


def _fault(row: tuple[Any, ...]) -> FaultRow:
    name, says, since, until, acknowledged = row
    return FaultRow(name, says, since, until, bool(acknowledged))


def list_in(text: str) -> tuple[Any, ...]:
    """The list that a column holds as JSON. Raises `ValueError` where it holds something else."""
    found = json.loads(text)
    if not isinstance(found, list):
        raise ValueError(f"{text!r} is not a list")
    return tuple(found)
