"""What a calendar file changes of the entries imported before: only what is not as it should be.

An imported entry carries its event's UID, its calendar's name and a mark of what it was like. By
the UID it is known again, wherever it stands; by the mark it is seen whether a person changed it
since: then it is theirs, is kept, and the difference is told. Entries that have passed stay. An
entry whose event is gone is removed, if it came from the calendar of that name.

New entries stand among the imported ones by date, and before the keeper's own: of two of a kind
the later in the file decides a date, and that is to be the keeper's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from hashlib import sha256
from typing import Any, Literal, NamedTuple

from controller.building.kept import CalendarEntry, EntryEvent
from controller.editing import entry_changes as steps
from controller.editing.calendar_rules import Wanted


class Changed(NamedTuple):
    """An imported entry that becomes another."""

    place: int  # of the entry in the building's calendar
    before: CalendarEntry
    after: CalendarEntry


class Removed(NamedTuple):
    """An imported entry that goes."""

    place: int
    entry: CalendarEntry


class Kept(NamedTuple):
    """An imported entry that stays although the calendar file says otherwise."""

    entry: CalendarEntry
    why: Literal["edited", "both changed", "event gone", "event unread"]
    asked: CalendarEntry | None = None  # what the calendar file would have instead


class Update(NamedTuple):
    """What an import does to the building's calendar."""

    added: tuple[CalendarEntry, ...] = ()  # by first date
    changed: tuple[Changed, ...] = ()
    removed: tuple[Removed, ...] = ()
    kept: tuple[Kept, ...] = ()
    as_they_were: int = 0  # imported entries that need no change

    @property
    def nothing(self) -> bool:
        """Whether the file stays as it is."""
        return not (self.added or self.changed or self.removed)


class _Imported(NamedTuple):
    """An entry that was imported, from today on."""

    place: int
    entry: CalendarEntry
    event: EntryEvent


def update(
    entries: Sequence[CalendarEntry],
    wanted: Iterable[Wanted],
    calendar: str,
    uids: frozenset[str],
    unread: frozenset[str],
    today: date,
) -> Update:
    """Hold the building's calendar against what the file of the calendar named so asks for.

    `uids` are those of all its events; of those in `unread`, which could not be read, the entries
    stay.
    """
    asked: dict[str, list[CalendarEntry]] = {}
    for one in wanted:
        asked.setdefault(one.uid, []).append(entry_of(one, calendar))
    there: dict[str, list[_Imported]] = {}
    for place, entry in enumerate(entries):
        event = entry.event
        if event is None or entry.last < today:
            continue
        if event.uid in uids or event.calendar == calendar:
            there.setdefault(event.uid, []).append(_Imported(place, entry, event))
    parts = [
        Update(kept=tuple(Kept(one.entry, "event unread") for one in of_event))
        if uid in unread
        else _of_event(of_event, asked.pop(uid, []), entries, today)
        for uid, of_event in there.items()
    ]
    new = [one for of_event in asked.values() for one in of_event]
    added = [*(one for part in parts for one in part.added), *new]
    return Update(
        tuple(sorted(added, key=lambda one: (one.first, one.last, one.says))),
        tuple(one for part in parts for one in part.changed),
        tuple(one for part in parts for one in part.removed),
        tuple(one for part in parts for one in part.kept),
        sum(part.as_they_were for part in parts),
    )


def entry_of(one: Wanted, calendar: str) -> CalendarEntry:
    """The calendar entry, with what it is known again by."""
    dates = {"on": one.first} if one.single else {"from": one.first, "until": one.last}
    what = {**dates, "plan": one.plan, "says": one.says, "lift_quiet": one.lift_quiet}
    mark = _mark(CalendarEntry.model_validate(what))
    event = {"calendar": calendar, "uid": one.uid, "mark": mark}
    return CalendarEntry.model_validate({**what, "event": event})


def _mark(entry: CalendarEntry) -> str:
    """A short number of all in the entry that the building goes by."""
    dates = (entry.single, entry.first.isoformat(), entry.last.isoformat())
    return sha256(repr((*dates, *_result(entry))).encode()).hexdigest()[:8]


def _result(entry: CalendarEntry) -> tuple[str, str, bool]:
    return entry.plan, entry.says, entry.lift_quiet


def calendar_changes(entries: Sequence[CalendarEntry], update: Update) -> list[steps.EntryChange]:
    """The update as changes to the file."""
    first_own = next((place for place, one in enumerate(entries) if one.event is None), None)
    imported = list(enumerate(entries[:first_own]))
    changes: list[steps.EntryChange] = [
        steps.Added(
            keys_of(new),
            next((place for place, one in imported if one.first > new.first), first_own),
        )
        for new in update.added
    ]
    changes += [steps.Replaced(one.place, keys_of(one.after)) for one in update.changed]
    changes += [steps.Removed(one.place) for one in update.removed]
    return changes


def keys_of(entry: CalendarEntry) -> dict[str, Any]:
    """An entry as the file has it; what is as it would be without a word is left out."""
    return entry.model_dump(by_alias=True, exclude_defaults=True)


# ── one event, or one series ─────────────────────────────────────────────────────────────────────


def _of_event(
    there: list[_Imported],
    asked: list[CalendarEntry],
    entries: Sequence[CalendarEntry],
    today: date,
) -> Update:
    """Its entries against those asked for: each against the same one, else the nearest in time."""
    asked, same, left = list(asked), 0, []
    for one in there:
        match = next((other for other in asked if _same(one.entry, other, today)), None)
        if match is None or _beats_own(one, entries):
            left.append(one)
        else:
            asked.remove(match)
            same += 1
    kept: list[Kept] = []
    changed: list[Changed] = []
    removed: list[Removed] = []
    # What a person changed comes first: it stands for what it was imported as, if that is there.
    for one in sorted(left, key=lambda one: not _edited(one)):
        if _edited(one):
            kept.append(_kept(one, asked))
            continue
        match = None if _beats_own(one, entries) else _nearest(one.entry, asked)
        if match is None:
            removed.append(Removed(one.place, one.entry))
        else:
            asked.remove(match)
            changed.append(Changed(one.place, one.entry, match))
    return Update(tuple(asked), tuple(changed), tuple(removed), tuple(kept), same)


def _edited(one: _Imported) -> bool:
    return one.event.mark != _mark(one.entry)


def _kept(one: _Imported, asked: list[CalendarEntry]) -> Kept:
    """An entry that a person changed; what it stands for is taken out of `asked`."""
    as_imported = [other for other in asked if other.event and other.event.mark == one.event.mark]
    match = next(iter(as_imported), None) or _nearest(one.entry, asked)
    if match is None:
        return Kept(one.entry, "event gone")
    asked.remove(match)
    return Kept(one.entry, "edited" if as_imported else "both changed", match)


def _nearest(entry: CalendarEntry, asked: list[CalendarEntry]) -> CalendarEntry | None:
    return min(asked, key=lambda other: abs(other.first - entry.first), default=None)


def _same(entry: CalendarEntry, other: CalendarEntry, today: date) -> bool:
    """Whether they come to the same from today on."""
    return (
        _result(entry) == _result(other)
        and entry.single == other.single
        and entry.last == other.last
        and max(entry.first, today) == max(other.first, today)
    )


def _beats_own(one: _Imported, entries: Sequence[CalendarEntry]) -> bool:
    """Whether it stands after an entry of the keeper's own that it would beat there."""
    return any(
        own.event is None
        and own.single == one.entry.single
        and own.first <= one.entry.last
        and one.entry.first <= own.last
        for own in entries[: one.place]
    )
