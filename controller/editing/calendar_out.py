"""A calendar file (iCalendar, RFC 5545) written: for any calendar program to read.

Times are given in UTC (§3.3.5, form 2): that needs no time zone rules of the reader's, and is the
same instant on both sides of a clock change. Whole days are dates (VALUE=DATE), their end
exclusive. Lines, their folding at 75 octets and the escaping of texts are the library's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID, uuid5

from icalendar import Calendar, Event, vText

from controller.building.civil import SECOND

PRODUCT = "-//Understudy//understudy//EN"
_NAMESPACE = UUID("6a1ccf0c-5a3f-4d0e-9a39-0f0c5e1b7b52")  # of our UIDs; never changes


class Moment(NamedTuple):
    """Something that begins and ends at instants (utc, ns)."""

    start: int
    end: int
    summary: str
    description: str
    categories: Sequence[str]


class WholeDay(NamedTuple):
    """Something that holds for a date."""

    date: date
    summary: str
    description: str
    categories: Sequence[str]


def calendar_bytes(name: str, entries: Iterable[Moment | WholeDay], now_utc: int) -> bytes:
    """The calendar file. `name` is the building's: with it and its time an entry is known again, so
    that a later export replaces it in the program that reads it (UID, §3.8.4.7 and RFC 7986 §5.3).
    """
    calendar = Calendar()
    calendar.add("PRODID", PRODUCT)
    calendar.add("VERSION", "2.0")
    if name:
        # RFC 7986 §5.1, and what programs knew before it; the library escapes neither by itself.
        calendar.add("NAME", vText(name))
        calendar.add("X-WR-CALNAME", vText(name))
    for entry in entries:
        calendar.add_component(_event(name, entry, now_utc))
    content: bytes = calendar.to_ical()
    return content


def _event(name: str, entry: Moment | WholeDay, now_utc: int) -> Event:
    event = Event()
    if isinstance(entry, Moment):
        start: date = _utc(entry.start)
        end: date = _utc(-(-entry.end // SECOND) * SECOND)  # a part of a second counts whole
    else:
        start, end = entry.date, entry.date + timedelta(1)
    event.add("UID", str(uuid5(_NAMESPACE, f"{name}\n{start.isoformat()}")))
    event.add("DTSTAMP", _utc(now_utc))
    event.add("DTSTART", start)
    event.add("DTEND", end)
    event.add("SUMMARY", entry.summary)
    if entry.description:
        event.add("DESCRIPTION", entry.description)
    if entry.categories:
        event.add("CATEGORIES", list(entry.categories))
    event.add("TRANSP", "TRANSPARENT")  # nobody is busy because a bell rings
    return event


def _utc(instant: int) -> datetime:
    """An instant as iCalendar has it: to whole seconds."""
    return datetime.fromtimestamp(instant // SECOND, UTC)
