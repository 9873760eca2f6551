"""`understudy calendar import`: a calendar's events become entries of the keeper's calendar."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path
from time import time_ns
from typing import TYPE_CHECKING

import typer

from controller.building.faults import shown
from controller.building.file import read
from controller.cli.edits import settle, texts_of
from controller.cli.guard import NotDone
from controller.cli.spoken import columns, paragraph
from controller.editing.calendar_changes import Kept, Update, calendar_changes, update
from controller.editing.calendar_in import (
    LOOK_AHEAD_DAYS,
    MOST_BYTES,
    CalendarFile,
    CalendarRefused,
    read_calendar,
)
from controller.editing.calendar_rules import Asked, LeftOut, asked, over
from controller.editing.document import with_calendar
from controller.pictures.spoken import counted, day_text

if TYPE_CHECKING:
    from controller.building.civil import CivilTime
    from controller.building.kept import CalendarEntry

_MOST_LEFT_OUT = 40  # events that are listed; the rest are a count
_MOST_CATEGORIES = 12


def import_calendar(file: Path, path: Path, runtime: Path | None, *, yes: bool) -> int:
    """Show what a calendar file would change, ask, and have it written; the exit code.

    Raises `Faults`, `NotDone`, and what `settle` raises.
    """
    texts = texts_of(path)
    building = read(path)
    today = building.civil.date_at(time_ns())
    calendar = _read(file, building.civil, today)
    if not building.imports:
        raise NotDone(_no_rules(path, calendar))
    own = [entry for entry in building.calendar if entry.event is None]
    asked_for = asked(calendar, building.imports, own, today)
    name = calendar.name or file.stem
    unread = frozenset(one.uid for one in calendar.unread)
    found = update(building.calendar, asked_for.wanted, name, calendar.uids, unread, today)
    typer.echo(_heading(name, calendar, today))
    for line in _told(found, asked_for, own):
        typer.echo(line)
    if found.nothing:
        typer.echo("\nNothing is to be done: the file has all of this already.")
        return 0
    typer.echo("")
    change = with_calendar(texts, calendar_changes(building.calendar, found))
    return settle(path, runtime, texts, change, yes=yes)


def _read(file: Path, civil: CivilTime, today: date) -> CalendarFile:
    with file.open("rb") as stream:
        content = stream.read(MOST_BYTES + 1)
    try:
        return read_calendar(content, civil, today)
    except CalendarRefused as why:
        raise typer.BadParameter(f"{file} {why}", param_hint="FILE.ics") from None


def _no_rules(path: Path, calendar: CalendarFile) -> str:
    """What to write, with what the calendar has in it."""
    categories = dict.fromkeys(word for one in calendar.occurrences for word in one.categories)
    named = ", ".join(shown(word) for word in list(categories)[:_MOST_CATEGORIES])
    has = f"Its events have the categories {named}." if named else "Its events have no categories."
    return (
        f"{path} has no [[import]] table, so no event of the calendar would count. {has} "
        'Write into the keeper\'s file, for example:\n\n[[import]]\nwords = ["winter break"]\n'
        'plan = "none"\n\nThe first rule that fits an event decides. README.md has every key.'
    )


# ── in words ─────────────────────────────────────────────────────────────────────────────────────


def _heading(name: str, calendar: CalendarFile, today: date) -> str:
    more = f" ({counted(calendar.others, 'to-do')} or the like left out)"
    last = today + timedelta(LOOK_AHEAD_DAYS)
    return paragraph(
        f"{name}: {counted(calendar.events, 'event')}{more if calendar.others else ''}. "
        f"From {day_text(today)} to {day_text(last)} it comes to:",
        "",
    )


def _told(found: Update, asked_for: Asked, own: Sequence[CalendarEntry]) -> Iterator[str]:
    yield from _section("Added", [_row(one) for one in found.added])
    yield from _section(
        "Changed",
        [
            (mark, *_row(entry))
            for one in found.changed
            for mark, entry in (("was", one.before), ("now", one.after))
        ],
    )
    yield from _section(
        "Removed, for the calendar has them no more", [_row(one.entry) for one in found.removed]
    )
    yield from _kept(found.kept)
    yield from _own_first(asked_for, own)
    yield from _left_out(asked_for.left_out)
    yield ""
    yield paragraph(
        f"{len(found.added)} to add, {len(found.changed)} to change, {len(found.removed)} to "
        f"remove; {found.as_they_were} as they were; {counted(len(asked_for.left_out), 'event')} "
        "left out.",
        "",
    )


def _section(heading: str, rows: Sequence[Sequence[str]]) -> Iterator[str]:
    if rows:
        yield f"\n{heading}"
        yield from columns(rows, indent=2)


def _row(entry: CalendarEntry) -> tuple[str, str, str]:
    lifted = " (quiet rows lifted)" if entry.lift_quiet else ""
    return dates_words(entry.first, entry.last), entry.plan, entry.says + lifted


def dates_words(first: date, last: date) -> str:
    """ "Fri 2026-12-18", or "Sat 2026-12-19 to Sun 2027-01-03"."""
    return day_text(first) if first == last else f"{day_text(first)} to {day_text(last)}"


def _kept(kept: Sequence[Kept]) -> Iterator[str]:
    """Entries that a person changed, and those whose event cannot be read."""
    words = {
        "edited": "you changed it; the calendar has still {}",
        "both changed": "you changed it, and the calendar has now {}",
        "event gone": "you changed it, and its event is no longer in the calendar",
        "event unread": "its event cannot be read this time",
    }
    rows = []
    for entry, why, asked_now in kept:
        now = ", ".join(filter(None, _row(asked_now))) if asked_now else ""
        rows.append((dates_words(entry.first, entry.last), entry.says, words[why].format(now)))
    yield from _section("Kept as they are", rows)
    if any(why != "event unread" for _, why, _ in kept):
        yield paragraph("To have one as the calendar has it, take it out and import again.", "  ")


def _own_first(asked_for: Asked, own: Sequence[CalendarEntry]) -> Iterator[str]:
    """Where the keeper's own entries go before what is imported, with another result."""
    rows = [
        (
            dates_words(max(mine.first, one.first), min(mine.last, one.last)),
            f"{mine.plan}, {mine.says}".removesuffix(", "),
            f"not {one.plan}, {one.says}".removesuffix(", "),
        )
        for one in asked_for.wanted
        for mine in over(one, own)
        if (mine.plan, mine.lift_quiet) != one.result
    ]
    yield from _section("Where your own entries go before the calendar", rows)


def _left_out(left_out: Sequence[LeftOut]) -> Iterator[str]:
    """What is left out, by why it is."""
    by_reason: dict[str, list[tuple[str, str]]] = {}
    for one in left_out[:_MOST_LEFT_OUT]:
        row = _when(one), one.summary or "(no summary)"
        by_reason.setdefault(one.why, []).append(row)
    for why, rows in by_reason.items():
        yield from _section(f"Left out: {why}", rows)
    if len(left_out) > _MOST_LEFT_OUT:
        yield f"  … and {counted(len(left_out) - _MOST_LEFT_OUT, 'event')} more"


def _when(one: LeftOut) -> str:
    if one.first is None:
        return ""
    first = day_text(one.first)
    return first if one.days == 1 else f"{one.days} days, first {first}"
