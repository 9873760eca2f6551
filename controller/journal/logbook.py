"""The logbook: what was rung, what was missed, what was ordered. Read by people, in time order."""

from __future__ import annotations

import sqlite3
from typing import Any, Literal, NamedTuple

from controller.journal.rows import list_in

MOST_ENTRIES = 10_000
MOST_AT_ONE_INSTANT = 1_000
KEPT_ANYWAY = 2 * 86_400_000_000_000  # ns; rings of so short a past must not be given twice


class LogbookEntry(NamedTuple):
    """One line of the logbook. What does not belong to its kind is "" or 0."""

    utc: int  # a sounding's start; when a ring was due; when a note was made
    kind: Literal["sounding", "missed", "missed-count", "note"]
    zone: str
    written: tuple[str, ...]  # dates and times of its rings, as written
    text: str  # what the rings say; why they were missed; the note
    how: Literal["begun", "done", "cut", "withdrawn", ""]
    length: int  # ns: a sounding's first closing to its last opening
    by: str  # who rang by hand, or to whom the note belongs
    rings: int  # how many rings this entry stands for


# Columns of every part: utc, kind, zone, written, text, how, edges, by, count.
_ENTRIES = """
    SELECT start_utc AS utc, 'sounding', zone, rings, says, how, edges, by, 0
        FROM soundings WHERE start_utc >= :since AND start_utc < :until
    UNION ALL
    SELECT due, 'missed', zone, json_array(written), why,
        CASE WHEN withdrawn THEN 'withdrawn' ELSE '' END, '[]', '', 1
        FROM misses WHERE due >= :since AND due < :until
    UNION ALL
    SELECT first_due, 'missed-count', '', '[]', why, '', '[]', '', rings
        FROM miss_counts WHERE first_due >= :since AND first_due < :until
    UNION ALL
    SELECT utc, 'note', '', '[]', text, '', '[]', who, 0
        FROM notes WHERE utc >= :since AND utc < :until
    ORDER BY utc DESC LIMIT :most"""

# In the order in which a long past is let go; each takes what room is left of the bound.
_PRUNE = (
    """DELETE FROM soundings WHERE play IN (SELECT play FROM soundings
        WHERE start_utc < :before AND how != 'begun' LIMIT :most)""",
    """DELETE FROM misses WHERE number IN (SELECT number FROM misses
        WHERE due < :before LIMIT :most)""",
    """DELETE FROM miss_counts WHERE first_due IN (SELECT first_due FROM miss_counts
        WHERE first_due < :before AND last_due < :before LIMIT :most)""",
    """DELETE FROM notes WHERE number IN (SELECT number FROM notes
        WHERE utc < :before AND number < (SELECT max(number) FROM notes) LIMIT :most)""",
)


def read(db: sqlite3.Connection, since_utc: int, until_utc: int, limit: int) -> list[LogbookEntry]:
    """The newest `limit` entries in [since_utc, until_utc), in time order, and a few more where
    the first would part entries of one instant: so `until_utc` = the first entry's utc reads on
    into the past, with nothing left out. Raises `sqlite3.Error`, or `ValueError` for a bad row.
    """
    most = max(1, min(limit, MOST_ENTRIES))
    rows = _rows(db, since_utc, until_utc, most)
    if len(rows) == most:
        rows = _rows(db, rows[-1][0], until_utc, most + MOST_AT_ONE_INSTANT)
    entries = [_entry(*row) for row in rows]
    return sorted(entries, key=lambda entry: (entry.utc, entry.kind, entry.zone))


def prune(db: sqlite3.Connection, before_utc: int, most: int) -> int:
    """Delete at most `most` rows that are older than `before_utc`, and say how many they were.

    Kept in any case: what has not ended, lines, lasting orders, the last note (new notes are
    numbered on from it), and all of the last two days before the newest stamp.
    """
    (stamped,) = db.execute("SELECT max(utc) FROM stamp").fetchone()
    if stamped is None:
        return 0
    gone = 0
    for statement in _PRUNE:
        bounds = {"before": min(before_utc, stamped - KEPT_ANYWAY), "most": most - gone}
        gone += db.execute(statement, bounds).rowcount
    return gone


def _rows(db: sqlite3.Connection, since: int, until: int, most: int) -> list[tuple[Any, ...]]:
    return db.execute(_ENTRIES, {"since": since, "until": until, "most": most}).fetchall()


def _entry(
    utc: int,
    kind: Literal["sounding", "missed", "missed-count", "note"],
    zone: str,
    rings: str,
    text: str,
    how: Literal["begun", "done", "cut", "withdrawn", ""],
    edges: str,
    by: str,
    count: int,
) -> LogbookEntry:
    written = list_in(rings)
    length = max(list_in(edges), default=0)
    return LogbookEntry(utc, kind, zone, written, text, how, length, by, count or len(written))
