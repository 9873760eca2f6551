"""Entries of the calendar that a person adds, one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from controller.building.kept import CalendarEntry
from controller.editing.document import Texts, entries_of
from controller.editing.entry_changes import Added, EntryChange, Replaced

_OWN_KEYS = ("on", "from", "until", "plan", "says", "lift_quiet")


def added(
    texts: Texts, calendar: Sequence[CalendarEntry], entry: CalendarEntry, keys: Mapping[str, Any]
) -> tuple[EntryChange, CalendarEntry | None]:
    """A new entry with these keys; in the place of the one that decided the same dates, if any."""
    place = max(alike(calendar, entry.on, entry.from_, entry.until), default=None)
    if place is None:
        return Added(keys), None
    return replaced(texts, place, keys), calendar[place]


def replaced(texts: Texts, place: int, keys: Mapping[str, Any]) -> Replaced:
    """Other keys for the entry at a place; what an import wrote into it stays."""
    before = entries_of(texts, "calendar")[place]
    more = {key: value for key, value in before.items() if key not in _OWN_KEYS}
    return Replaced(place, {**keys, **more})


def alike(
    calendar: Sequence[CalendarEntry], on: date | None, first: date | None, last: date | None
) -> Iterator[int]:
    """The places of the entries for these dates; any last date where none is given."""
    for place, entry in enumerate(calendar):
        if entry.on == on and entry.from_ == first and last in (None, entry.until):
            yield place


def beaten_by(calendar: Sequence[CalendarEntry], entry: CalendarEntry) -> list[CalendarEntry]:
    """The entries for single dates that go before a range."""
    if entry.single:
        return []
    return [one for one in calendar if one.single and entry.first <= one.first <= entry.last]
