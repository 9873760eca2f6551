"""The rehearsal record as JSON Lines (RFC 8259, one object a line), and counted by date.

Keys stand in the order of the design's section 6; a key that has nothing to say is left out.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from controller.building.civil import SECOND, CivilTime
from controller.rehearsal.record import (
    EndRecord,
    ImpulseRecord,
    LineEnd,
    MissedRecord,
    RehearsalRecord,
    RingRecord,
)

Only = Literal["rings", "impulses"]
_MILLISECOND = 1_000_000
_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))  # made once: that is slow


def local_text(civil: CivilTime, utc: int) -> str:
    """An instant (ns) as local time with offset: "2026-11-25T08:30:00-04:00".

    Milliseconds stand only where they are not whole seconds; what is finer is cut off.
    """
    whole = utc % SECOND < _MILLISECOND
    return civil.aware(utc).isoformat(timespec="seconds" if whole else "milliseconds")


def json_line(record: RehearsalRecord, civil: CivilTime) -> str:
    """A record as one line of JSON, without its line end."""
    return _JSON.encode(_members(record, civil))


def _members(record: RehearsalRecord, civil: CivilTime) -> dict[str, object]:
    at = local_text(civil, record.at)
    match record:
        case RingRecord():
            members: dict[str, object] = {
                "at": at,
                "event": "ring",
                "zone": record.zone,
                "due": local_text(civil, record.due),
                "seconds": record.length / SECOND,
            }
            if record.says:
                members["says"] = record.says
            if record.cut:
                members["cut"] = True
            if record.hand:
                members["hand"] = True
        case ImpulseRecord():
            members = {"at": at, "event": "impulse", "line": record.line}
            if record.polarity:
                members["polarity"] = record.polarity
            members["shows"] = record.shows
            if record.again:
                members["again"] = True
            if record.cut:
                members["cut"] = True
        case MissedRecord():
            members = {
                "at": at,
                "event": "missed",
                "zone": record.zone,
                "due": local_text(civil, record.due),
                "why": record.why,
            }
        case EndRecord():
            return {
                "at": at,
                "event": "end",
                "rings": record.rings,
                "impulses": record.impulses,
                "missed": record.missed,
                "lines": {name: _line_end(line) for name, line in record.lines.items()},
            }
    if record.clock is not None:
        members["clock"] = local_text(civil, record.clock)
    return members


def _line_end(line: LineEnd) -> dict[str, object]:
    assert line.shows, "a line has dials"
    shows = line.shows[0] if len(line.shows) == 1 else list(line.shows)
    return {"shows": shows, "right": line.right, "doubtful": line.doubtful}


def only(records: Iterable[RehearsalRecord], what: Only) -> Iterator[RehearsalRecord]:
    """What concerns rings (a missed ring with them) or impulses alone, and the end record."""
    kept = (RingRecord, MissedRecord) if what == "rings" else (ImpulseRecord,)
    return (record for record in records if isinstance(record, (*kept, EndRecord)))


# ── counted by date ──────────────────────────────────────────────────────────────────────────────


@dataclass
class DayCount:
    """What a rehearsal came to on one local date, by the date on which it happened."""

    soundings: Counter[str] = field(default_factory=Counter)  # by zone
    cut: Counter[str] = field(default_factory=Counter)  # of them, by zone
    impulses: Counter[str] = field(default_factory=Counter)  # by line
    again: Counter[str] = field(default_factory=Counter)  # of them, by line
    missed: Counter[str] = field(default_factory=Counter)  # by zone


@dataclass
class Tally:
    """A rehearsal counted: by date, the missed in order, and its end."""

    days: dict[date, DayCount]
    missed: list[MissedRecord]  # the first of them, as many as were asked for
    end: EndRecord


def tally(records: Iterable[RehearsalRecord], civil: CivilTime, most_missed: int) -> Tally:
    """Count a rehearsal's records; at most `most_missed` missed rings are kept singly."""
    days: dict[date, DayCount] = {}
    missed: list[MissedRecord] = []
    end = None
    for record in records:
        assert end is None, "the end record is the last"
        if isinstance(record, EndRecord):
            end = record
            continue
        count = days.setdefault(civil.date_at(record.at), DayCount())
        match record:
            case RingRecord():
                count.soundings[record.zone] += 1
                count.cut[record.zone] += record.cut
            case ImpulseRecord():
                count.impulses[record.line] += 1
                count.again[record.line] += record.again
            case MissedRecord():
                count.missed[record.zone] += 1
                if len(missed) < most_missed:
                    missed.append(record)
    assert end is not None, "a rehearsal ends with its end record"
    return Tally(days, missed, end)
