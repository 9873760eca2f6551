"""Records to rows and back. The newest record of a key stands for all before it.

Functions here take an open connection that knows `row_sum` (`sums.know_sums`) and leave
transactions to their caller.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from functools import lru_cache
from sys import intern
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
from controller.journal.sums import Row, summed

# Read at a start. What the identities guard against (a ring given twice) spans some 26 hours.
NEWEST_SOUNDINGS = 20_000
NEWEST_MISSES = 5_000
NEWEST_COUNTS = 1_000
NEWEST_ERAS = 1_000
NEWEST_FAULTS = 1_000  # there are not so many names of faults

_OF_A_LINE = tuple(field for field in LineRow._fields if field != "step")
_OF_A_STEP = tuple(f"step_{field}" for field in StepRow._fields)
_TRUTHS = ("read", "polarity_known", "doubtful", "held")
_NO_STEP = (None,) * len(_OF_A_STEP)
# What stands in the rows of each table, in the order in which it is summed.
_COLUMNS: dict[str, tuple[str, ...]] = {
    "stamp": Stamp._fields,
    "lines": (*_OF_A_LINE, *_OF_A_STEP),
    "soundings": SoundingRow._fields,
    "misses": (*MissRow._fields, "withdrawn"),
    "miss_counts": MissCount._fields,
    "quiet": QuietRow._fields,
    "follow": FollowRow._fields,
    "notes": NoteRow._fields,
    "faults": FaultRow._fields,
    "eras": EraRow._fields,
    "trust": TrustRow._fields,
}


def _put_into(table: str, *key: str) -> str:
    """The statement that puts a row with its sum. Over one that is there it is written in place: a
    row or key that is replaced would change the index too, a page more an impulse.
    """
    columns = _COLUMNS[table]
    marks = ", ".join(f"?{number}" for number in range(1, len(columns) + 1))
    names, values = (*columns, "sum"), f"{marks}, row_sum({marks})"
    if key == ("one",):  # the only row that the table may have
        names, values = ("one", *names), f"1, {values}"
    over = ", ".join(f"{name} = excluded.{name}" for name in names if name not in key)
    return f"""INSERT INTO {table} ({", ".join(names)}) VALUES ({values})
        ON CONFLICT ({", ".join(key)}) DO UPDATE SET {over}"""


_PUT_STAMP = _put_into("stamp", "one")
_PUT_LINE = _put_into("lines", "line")
_PUT_SOUNDING = _put_into("soundings", "play")
_PUT_MISS = _put_into("misses", "zone", "written")
_WITHDRAW_MISS = """UPDATE misses SET withdrawn = 1, sum = row_sum(zone, written, due, why, 1)
    WHERE zone = ? AND written = ?"""
_PUT_COUNT = _put_into("miss_counts", "first_due")
_PUT_QUIET = _put_into("quiet", "zone")
_PUT_FOLLOW = _put_into("follow", "day")
_PUT_NOTE = _put_into("notes", "number")
_PUT_FAULT = _put_into("faults", "name")
_PUT_ERA = _put_into("eras", "number")
_PUT_TRUST = _put_into("trust", "one")


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
            db.execute(_PUT_MISS, (*record, False))
        case MissCount():
            db.execute(_PUT_COUNT, record)
        case QuietRow(until=0):
            db.execute("DELETE FROM quiet WHERE zone = ?", (record.zone,))
        case QuietRow():
            db.execute(_PUT_QUIET, record)
        case FollowRow(plan="usual"):
            db.execute("DELETE FROM follow WHERE day = ?", (record.day,))
        case FollowRow():
            db.execute(_PUT_FOLLOW, record)
        case NoteRow():
            db.execute(_PUT_NOTE, record)
        case FaultRow(acknowledged=True) if record.until:
            db.execute("DELETE FROM faults WHERE name = ?", (record.name,))
        case FaultRow():
            db.execute(_PUT_FAULT, record)
        case EraRow():
            db.execute(_PUT_ERA, record)
        case TrustRow():
            db.execute(_PUT_TRUST, record)
        case _:
            assert_never(record)


def newest(db: sqlite3.Connection) -> Iterator[Record]:
    """What a start needs: the stamp, all lines, lasting orders, faults, the word on the clock and
    soundings not ended; the newest of soundings that ended, misses and counts, as far back as the
    limits above; the last note.

    Raises `sqlite3.Error`, or `ValueError` where a row cannot be read or is not as it was stored.
    """
    yield from map(_stamp, _read(db, "stamp"))
    yield from map(_line, _read(db, "lines"))
    yield from map(_sounding, _read(db, "soundings", "WHERE how = 'begun'"))
    ended = "WHERE how != 'begun' ORDER BY play DESC LIMIT ?"
    yield from map(_sounding, _read(db, "soundings", ended, NEWEST_SOUNDINGS))
    misses = "WHERE NOT withdrawn ORDER BY number DESC LIMIT ?"
    yield from map(_miss, _read(db, "misses", misses, NEWEST_MISSES))
    counts = "ORDER BY first_due DESC LIMIT ?"
    yield from map(MissCount._make, _read(db, "miss_counts", counts, NEWEST_COUNTS))
    yield from map(QuietRow._make, _read(db, "quiet"))
    yield from map(FollowRow._make, _read(db, "follow"))
    yield from map(_fault, _read(db, "faults", "ORDER BY since DESC LIMIT ?", NEWEST_FAULTS))
    yield from map(EraRow._make, _read(db, "eras", "ORDER BY number DESC LIMIT ?", NEWEST_ERAS))
    yield from map(TrustRow._make, _read(db, "trust"))
    yield from map(NoteRow._make, _read(db, "notes", "ORDER BY number DESC LIMIT ?", 1))


def _read(db: sqlite3.Connection, table: str, which: str = "", *limit: int) -> Iterator[Row]:
    columns = ", ".join((*_COLUMNS[table], "sum"))
    return map(summed, db.execute(f"SELECT {columns} FROM {table} {which}", limit))


def _stamp(row: Row) -> Stamp:
    utc, mono, boot, trusted, settled, fence, next_play = row
    return Stamp(utc, mono, boot, bool(trusted), settled, fence, next_play)


def _line(row: Row) -> LineRow:
    of_the_line = dict(zip(_OF_A_LINE, row, strict=False))
    truths = {name: bool(of_the_line[name]) for name in _TRUTHS}
    return LineRow(**{**of_the_line, **truths}, step=_step(row[len(_OF_A_LINE) :]))


def _step(row: Row) -> StepRow | None:
    play, polarity, start_utc, start_mono, boot, counts, again = row
    if play is None:
        return None
    return StepRow(play, polarity, start_utc, start_mono, boot, bool(counts), bool(again))


def _sounding(row: Row) -> SoundingRow:
    play, zone, due, start_utc, start_mono, boot, edges, rings, says, by, how, era = row
    zone, boot = intern(zone), intern(boot)  # thousands are read, and have these in common
    given = _edges_in(edges), list_in(rings)
    return SoundingRow(play, zone, due, start_utc, start_mono, boot, *given, says, by, how, era)


@lru_cache(maxsize=256)
def _edges_in(text: str) -> tuple[Any, ...]:
    """Most soundings of a building are alike."""
    return list_in(text)


def _miss(row: Row) -> MissRow:
    *held, _withdrawn = row
    return MissRow._make(held)


def _fault(row: Row) -> FaultRow:
    name, says, since, until, acknowledged = row
    return FaultRow(name, says, since, until, bool(acknowledged))


def list_in(text: str) -> tuple[Any, ...]:
    """The list that a column holds as JSON. Raises `ValueError` where it holds something else."""
    found = json.loads(text)
    if not isinstance(found, list):
        raise ValueError(f"{text!r} is not a list")
    return tuple(found)
