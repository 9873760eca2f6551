"""A sum in each row of the store, so that a bit that is another within a row is noticed.

SQLite checks how pages are built, not what stands in them, and a card that lost its power may hand
back another bit than it was given.
"""

from __future__ import annotations

import json
import sqlite3
from typing import Any
from zlib import crc32

Row = tuple[Any, ...]


def row_sum(*values: str | int | None) -> int:
    """The CRC-32 (of zlib, RFC 1952 section 8) of a row's columns, in the order of its table.

    JSON, with what is not ASCII escaped, is the same text in every version of Python.
    """
    return crc32(json.dumps(values).encode())


def know_sums(db: sqlite3.Connection) -> None:
    """Let this connection's statements say `row_sum(…)`: a row cannot be put without."""
    db.create_function("row_sum", -1, row_sum, deterministic=True)


def summed(row: Row) -> Row:
    """The row without its sum, which is its last column. Raises `ValueError` where it is wrong."""
    *values, kept = row
    if row_sum(*values) != kept:
        raise ValueError(f"a row is not as it was stored: {values}"[:200])
    return tuple(values)
