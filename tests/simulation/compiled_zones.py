"""The compiled tables of the IANA time zone database, read a second time.

From the same files as `zoneinfo` reads, and without it: TZif by RFC 9636, §3; the rule in its
footer, for the years after the table, by the same, §3.3.1. Local times are read by RFC 5545,
§3.3.5.
"""

from __future__ import annotations

import re
import struct
import zoneinfo
from bisect import bisect_right
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from importlib.resources import as_file, files
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

DAY = 86_400
FIRST, PAST = (int(datetime(year, 1, 1, tzinfo=UTC).timestamp()) for year in (2000, 2038))
_LONG_AGO = -(2**62)
_LAST_RULED_YEAR = 2040  # a rule in a footer is written out up to here
_RULE = re.compile(
    r"(?P<std><[^>]+>|[A-Za-z]+)(?P<off>[-+0-9:]+)"
    r"((?P<dst><[^>]+>|[A-Za-z]+)(?P<dstoff>[-+0-9:]*),(?P<begin>[^,]+),(?P<end>[^,]+))?"
)


class Change(NamedTuple):
    """An entry of a zone's table: at `at` (seconds since 1970) these offsets (s) part."""

    at: int
    before: int
    after: int


class Table(NamedTuple):
    """Which offset holds from when on."""

    starts: tuple[int, ...]  # seconds since 1970; the first long ago
    offsets: tuple[int, ...]

    def offset_at(self, utc: int) -> int:
        return self.offsets[bisect_right(self.starts, utc) - 1]

    def changes(self, first: int = FIRST, past: int = PAST) -> Iterator[Change]:
        """Every entry in the span, those that change only a name or a flag too."""
        for place in range(1, len(self.starts)):
            if first <= self.starts[place] < past:
                yield Change(self.starts[place], self.offsets[place - 1], self.offsets[place])

    def _spans(self, around: int) -> Iterator[tuple[int, int, int]]:
        """(from, until, offset) of all that holds within four days of `around`."""
        first = bisect_right(self.starts, around - 4 * DAY) - 1
        past = bisect_right(self.starts, around + 4 * DAY)
        for place in range(first, past):
            until = self.starts[place + 1] if place + 1 < len(self.starts) else 2**62
            yield self.starts[place], until, self.offsets[place]

    def instant(self, local: int) -> int:
        """Of a local time, in seconds since 1970 on the clock's face, as RFC 5545 §3.3.5 reads it.

        The first of two; and one that does not exist with the offset before the gap.
        """
        spans = list(self._spans(local))
        for start, until, offset in spans:
            if start <= local - offset < until:
                return local - offset
        for (_, until, offset), (start, _, _) in pairwise(spans):
            if local - offset >= until == start:
                missing = local - offset
        return missing

    def date_exists(self, midnight: int) -> bool:
        """Whether a clock ever showed any of the date that begins at this local time."""
        return any(
            start + offset < midnight + DAY and midnight < until + offset
            for start, until, offset in self._spans(midnight)
        )


@cache
def table_of(zone: str) -> Table:
    """The compiled table of a zone, its rule written out."""
    return read_table(zone_bytes(zone))


def zone_bytes(zone: str) -> bytes:
    """What `zoneinfo` reads: the system's file, else that of the package tzdata."""
    for folder in zoneinfo.TZPATH:
        path = Path(folder) / zone
        if path.is_file():
            return path.read_bytes()
    with as_file(files("tzdata") / "zoneinfo" / zone) as path:
        return path.read_bytes()


def read_table(data: bytes) -> Table:
    """TZif, version 2 and on: the second block has 64-bit times (RFC 9636 §3.2)."""
    assert data[:4] == b"TZif"
    assert data[4:5] >= b"2", "a table with 32-bit times only"
    _, past = _block(data, 0, 4)
    entries, past = _block(data, past, 8)
    starts = [start for start, _ in entries]
    offsets = [offset for _, offset in entries]
    footer = data[past:].decode("ascii").strip("\n")
    for start, offset in _ruled(footer) if footer else ():
        if start > starts[-1]:
            starts.append(start)
            offsets.append(offset)
    return Table(tuple(starts), tuple(offsets))


def _block(data: bytes, at: int, size: int) -> tuple[list[tuple[int, int]], int]:
    """(start, offset) of a data block whose times have `size` bytes, and where it ends."""
    isut, isstd, leaps, times, types, letters = struct.unpack(">6L", data[at + 20 : at + 44])
    at += 44
    number = "q" if size == 8 else "l"
    starts = struct.unpack(f">{times}{number}", data[at : at + times * size])
    at += times * size
    kinds = data[at : at + times]
    at += times
    offsets = [struct.unpack(">lBB", data[at + 6 * n : at + 6 * n + 6])[0] for n in range(types)]
    at += 6 * types + letters + leaps * (size + 4) + isstd + isut
    entries = [(_LONG_AGO, offsets[0])]
    entries += [
        (start, offsets[kind])
        for start, kind in zip(starts, kinds, strict=True)
        if start > _LONG_AGO
    ]
    return entries, at


# ── the rule in the footer ───────────────────────────────────────────────────────────────────────


def _ruled(footer: str) -> list[tuple[int, int]]:
    """(start, offset) of every change by the rule, from 1970 to 2040; none where it has none."""
    match = _RULE.fullmatch(footer)
    assert match, f"no rule that this reading knows: {footer!r}"
    if match["dst"] is None:
        return []
    standard = -_seconds(match["off"])
    summer = -_seconds(match["dstoff"]) if match["dstoff"] else standard + 3600
    found = []
    for year in range(1970, _LAST_RULED_YEAR + 1):
        found.append((_rule_local(match["begin"], year) - standard, summer))
        found.append((_rule_local(match["end"], year) - summer, standard))
    return sorted(found)


def _seconds(text: str) -> int:
    """Seconds of [+-]h[hh][:mm[:ss]]."""
    sign = -1 if text.startswith("-") else 1
    hours, minutes, seconds = (*map(int, text.lstrip("+-").split(":")), 0, 0)[:3]
    return sign * (hours * 3600 + minutes * 60 + seconds)


def _rule_local(rule: str, year: int) -> int:
    """The local time, in seconds since 1970, of Mm.w.d[/time]: week 5 is the last."""
    when, _, time = rule.partition("/")
    assert when[0] == "M", f"no zone has had any other form so far: {rule!r}"
    month, week, weekday = map(int, when[1:].split("."))
    first = date(year, month, 1)
    day = first + timedelta(days=(weekday - first.isoweekday()) % 7 + 7 * (week - 1))
    if day.month != month:
        day -= timedelta(days=7)
    return (day - date(1970, 1, 1)).days * DAY + (_seconds(time) if time else 7200)
