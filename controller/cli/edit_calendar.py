"""`understudy edit calendar`: the entries of the calendar shown, added and removed."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

import typer

from controller.building.file import read
from controller.building.kept import CalendarEntry
from controller.building.model import Building
from controller.cli.edits import settle, texts_of
from controller.cli.given import must_be_plan, read_keys
from controller.cli.spoken import columns, paragraph
from controller.editing.calendar_entries import added, alike, beaten_by
from controller.editing.document import with_calendar
from controller.editing.entry_changes import Removed
from controller.pictures.spoken import day_text

_DATES = "--on, or --from and --until"


class Asked(NamedTuple):
    """An entry as it is given: dates, and what holds on them."""

    on: str | None
    from_: str | None
    until: str | None
    plan: str | None
    says: str | None
    lift_quiet: bool


def list_calendar(path: Path) -> int:
    """Print the entries that are not over, by their first date."""
    building = read(path)
    today = building.civil.date_at(time.time_ns())
    coming = sorted(
        (entry for entry in building.calendar if entry.last >= today), key=lambda one: one.first
    )
    for line in columns([_row(entry) for entry in coming], indent=2):
        typer.echo(line)
    over = len(building.calendar) - len(coming)
    if not coming:
        typer.echo("The calendar has no entry to come.")
    if over:
        typer.echo(f"  and {over} of the past")
    return 0


def add_entry(path: Path, runtime: Path | None, asked: Asked, *, yes: bool) -> int:
    """Add an entry, in the place of one for the same dates; the exit code. Raises as `settle`."""
    building = read(path)
    if asked.plan is None:
        raise typer.BadParameter("is required to add an entry", param_hint="--plan")
    must_be_plan(asked.plan, building.plans, "--plan")
    keys = _keys(asked)
    entry = read_keys(CalendarEntry, keys)
    if entry.first > entry.last:
        raise typer.BadParameter(f"is before --from ({entry.first})", param_hint="--until")
    texts = texts_of(path)
    change, before = added(texts, building.calendar, entry, keys)
    rows = [("new", *_row(entry))]
    if before is not None:
        rows.insert(0, ("instead of", *_row(before)))
    _show(rows)
    if entry.last < building.civil.date_at(time.time_ns()):
        typer.echo("  These dates are over already.")
    for line in _beaten(building, entry):
        typer.echo(paragraph(line, "  "))
    return settle(path, runtime, texts, with_calendar(texts, [change]), yes=yes)


def remove_entry(path: Path, runtime: Path | None, asked: Asked, *, yes: bool) -> int:
    """Remove the entry for these dates; the exit code. Raises as `settle` does."""
    building = read(path)
    for option, given in (("--says", asked.says), ("--lift-quiet", asked.lift_quiet or None)):
        if given is not None:
            raise typer.BadParameter("belongs to add", param_hint=option)
    dates = _read_dates(asked)
    places = [
        place
        for place in alike(building.calendar, dates.on, dates.from_, dates.until)
        if asked.plan in (None, building.calendar[place].plan)
    ]
    if not places:
        raise typer.BadParameter(_not_there(building, dates), param_hint=_DATES)
    _show([("gone", *_row(building.calendar[place])) for place in places])
    texts = texts_of(path)
    change = with_calendar(texts, [Removed(place) for place in places])
    return settle(path, runtime, texts, change, yes=yes)


# ── dates ────────────────────────────────────────────────────────────────────────────────────────


class _Dates(NamedTuple):
    on: date | None
    from_: date | None
    until: date | None


def _keys(asked: Asked) -> dict[str, Any]:
    """The keys of an entry, as in the file. Raises `typer.BadParameter` where dates are missing."""
    dates = {"on": asked.on, "from": asked.from_, "until": asked.until}
    keys: dict[str, Any] = {key: one for key, one in dates.items() if one is not None}
    if set(keys) not in ({"on"}, {"from", "until"}):
        raise typer.BadParameter("expected one of the two", param_hint=_DATES)
    keys["plan"] = asked.plan
    if asked.says:
        keys["says"] = asked.says
    if asked.lift_quiet:
        keys["lift_quiet"] = True
    return keys


def _read_dates(asked: Asked) -> _Dates:
    """The dates by which an entry is meant: of a range its first may do."""
    given = {"on": asked.on, "from": asked.from_, "until": asked.until}
    keys = {key: one for key, one in given.items() if one is not None}
    if set(keys) not in ({"on"}, {"from"}, {"from", "until"}):
        raise typer.BadParameter("expected one of the two", param_hint=_DATES)
    entry = read_keys(CalendarEntry, {**keys, "plan": "none"})
    return _Dates(entry.on, entry.from_, entry.until)


def _not_there(building: Building, dates: _Dates) -> str:
    day = dates.on or dates.from_
    assert day is not None, "one of them is given"
    words = f"the calendar has no such entry {'on' if dates.on else 'from'} {day_text(day)}"
    covering = [entry for entry in building.calendar if entry.first <= day <= entry.last]
    if not covering:
        return f"{words}, nor any other for that date"
    return f"{words}; for that date it has {'; '.join(' '.join(_row(one)) for one in covering)}"


def _beaten(building: Building, entry: CalendarEntry) -> Iterator[str]:
    if single := beaten_by(building.calendar, entry):
        listed = "; ".join(" ".join(_row(one)).strip() for one in single)
        yield f"Entries for single dates go before it: {listed}."


# ── shown ────────────────────────────────────────────────────────────────────────────────────────


def _row(entry: CalendarEntry) -> tuple[str, str, str]:
    dates = day_text(entry.first) if entry.single else f"{entry.first} to {entry.last}"
    lifted = ", quiet rows lifted" if entry.lift_quiet else ""
    return dates, f"{entry.plan}{lifted}", entry.says


def _show(rows: Sequence[tuple[str, ...]]) -> None:
    for line in columns(rows, indent=2):
        typer.echo(line)
