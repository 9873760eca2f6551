"""`/edit/calendar`: dates that depart from the week, added, changed and removed."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.entries import read_entry
from controller.building.faults import Fault, Faults
from controller.building.kept import CalendarEntry
from controller.building.values import NO_RINGS, USUAL
from controller.editing.calendar_entries import added, beaten_by, replaced
from controller.editing.document import Change, entries_of, with_calendar
from controller.editing.entry_changes import Added, EntryChange, Removed
from controller.editing.keeper_file import EditRefused
from controller.editing.written import plain
from controller.page.edit_begun import (
    RIGHT,
    Begun,
    Wrong,
    begin_again,
    editing,
    field_text,
    judged,
    out_of_date,
    place_of,
    places_of,
    said,
    wrong_of,
)
from controller.page.edit_shown import shown
from controller.page.forms import Form, form_again
from controller.page.rendering import page
from controller.timetable.differences import date_words

_FIELDS = ("on", "from", "until", "plan", "says")
_ENTRY = re.compile(r"\[\[calendar\]\] entry (?P<place>[0-9]+)(?: \(.*\))?")
_EMPTY = {**dict.fromkeys(_FIELDS, ""), "lift_quiet": ""}
Anew = Callable[[Wrong], Response]


@editing
async def calendar(request: Request, start: Begun) -> Response:
    """The entries, and a form for one more."""
    return _calendar(request, start)


@editing
async def add(request: Request, start: Begun) -> Response:
    """An entry is added; in the place of the one for the same dates, if there is one."""
    form = await form_again(request)
    if out_of_date(start, form):
        return begin_again(request)
    keys = _keys(form)

    def anew(wrong: Wrong) -> Response:
        return _calendar(request, start, _typed(form), wrong)

    entry, faults = read_entry(CalendarEntry, "", "", keys)
    if faults or not _dated(keys):  # which entry it would stand for is not to be known
        return await _shown(request, start, Added(keys), keys, "", anew)
    change, before = added(start.texts, start.building.calendar, entry.value, keys)
    what = f"The calendar: an entry for {_when(entry.value)} is added"
    if before is not None:
        what += f", instead of {before.plan}" + (f" ({before.says})" if before.says else "")
    if single := beaten_by(start.building.calendar, entry.value):
        what += f". Entries for single dates go before it: {', '.join(map(_when, single))}"
    return await _shown(request, start, change, keys, what, anew)


@editing
async def change(request: Request, start: Begun) -> Response:
    """One entry, to be changed."""
    entries = start.building.calendar
    place = place_of(request.path_params["place"], len(entries))
    if place is None:
        words = "There is no such entry in the calendar: perhaps it was changed meanwhile."
        return said(request, "Not found", [words], status=404)
    if request.method != "POST":
        return _entry(request, start, place, _typed_of(entries_of(start.texts, "calendar")[place]))
    form = await form_again(request)
    if out_of_date(start, form):
        return begin_again(request)
    what = f"The calendar: the entry for {_when(entries[place])} is changed"
    new = replaced(start.texts, place, _keys(form))
    return await _shown(
        request,
        start,
        new,
        new.keys,
        what,
        lambda wrong: _entry(request, start, place, _typed(form), wrong),
    )


@editing
async def remove(request: Request, start: Begun) -> Response:
    """The chosen entries go."""
    form, entries = await form_again(request), start.building.calendar
    if out_of_date(start, form):
        return begin_again(request)
    places = places_of(form.all("entry"), len(entries))
    if not places:
        wrong = Wrong({"entry": ["Choose the entries that are to go."]})
        return _calendar(request, start, None, wrong)
    dates = ", ".join(_when(entries[place]) for place in places)
    verb = "entries for {} are" if places[1:] else "the entry for {} is"
    what = f"The calendar: {verb.format(dates)} removed"
    changed = await _with_calendar(start, [Removed(place) for place in places])
    if isinstance(changed, Wrong):
        return _calendar(request, start, None, changed)
    try:
        after = await judged(start, changed)
    except Faults as faults:
        return _calendar(request, start, None, Wrong({}, tuple(str(faults).splitlines())))
    return await shown(request, start, changed, after, what)


# ── parts ────────────────────────────────────────────────────────────────────────────────────────


async def _with_calendar(start: Begun, changes: list[EntryChange]) -> Change | Wrong:
    """The file with these changes; or why it cannot be written so."""
    try:
        return await run_in_threadpool(with_calendar, start.texts, changes)
    except EditRefused as no:
        return Wrong({}, (str(no),))


async def _shown(
    request: Request,
    start: Begun,
    one: EntryChange,
    keys: Mapping[str, Any],
    what: str,
    anew: Anew,
) -> Response:
    """One entry's change shown; where it has faults the form `anew`, with them at its fields."""
    changed = await _with_calendar(start, [one])
    if isinstance(changed, Wrong):
        return anew(changed)
    try:
        after = await judged(start, changed)
    except Faults as faults:
        return anew(wrong_of(faults.faults, _field_of(start, changed, keys)))
    return await shown(request, start, changed, after, what)


def _field_of(
    start: Begun, changed: Change, keys: Mapping[str, Any]
) -> Callable[[Fault], str | None]:
    after = entries_of({**start.texts, changed.file: changed.text}, "calendar")
    places = {place for place, one in enumerate(after, 1) if plain(one) == plain(keys)}

    def named(fault: Fault) -> str | None:
        match = _ENTRY.fullmatch(fault.table)
        if match is None or int(match["place"]) not in places:
            return None
        return {"": "on"}.get(fault.key, fault.key) if fault.key in ("", *_FIELDS) else None

    return named


def _keys(form: Form) -> dict[str, Any]:
    """The entry as the file would have it; what is left empty is left out."""
    keys: dict[str, Any] = {key: value for key in _FIELDS if (value := field_text(form, key))}
    if form.get("lift_quiet"):
        keys["lift_quiet"] = True
    return keys


def _dated(keys: Mapping[str, Any]) -> bool:
    return {"on", "from", "until"} & set(keys) in ({"on"}, {"from", "until"})


def _typed(form: Form) -> dict[str, str]:
    return {key: form.get(key, "") for key in _EMPTY}


def _typed_of(keys: Mapping[str, Any]) -> dict[str, str]:
    found = plain(keys)
    lifted = "yes" if found.get("lift_quiet") else ""
    return {**{key: found.get(key, "") for key in _FIELDS}, "lift_quiet": lifted}


def _when(entry: CalendarEntry) -> str:
    """ "Fri 18 Dec 2026", "Sat 19 Dec 2026 to Sun 3 Jan 2027"."""
    first, last = (f"{date_words(day)} {day.year}" for day in (entry.first, entry.last))
    return first if entry.single else f"{first} to {last}"


def _calendar(
    request: Request,
    start: Begun,
    fields: dict[str, str] | None = None,
    wrong: Wrong = RIGHT,
) -> Response:
    today = start.building.civil.date_at(time.time_ns())
    rows = sorted(enumerate(start.building.calendar), key=lambda one: one[1].first)
    listed = [(place, _when(entry), entry) for place, entry in rows]
    coming = [one for one in listed if not _over(one[2], today)]
    past = [one for one in listed if _over(one[2], today)]
    return page(
        request,
        "edit_calendar.html",
        status=422 if wrong != RIGHT else 200,
        coming=coming,
        past=past,
        plans=_plans(start),
        fields=fields or _EMPTY,
        wrong=wrong,
        was=start.fingerprint,
    )


def _over(entry: CalendarEntry, today: date) -> bool:
    return entry.last < today


def _entry(
    request: Request, start: Begun, place: int, fields: dict[str, str], wrong: Wrong = RIGHT
) -> Response:
    return page(
        request,
        "edit_entry.html",
        status=422 if wrong != RIGHT else 200,
        place=place,
        plans=_plans(start),
        fields=fields,
        wrong=wrong,
        was=start.fingerprint,
    )


def _plans(start: Begun) -> list[tuple[str, str]]:
    return [(plan, plan) for plan in (*start.building.plans, NO_RINGS, USUAL)]


ROUTES = [
    Route("/edit/calendar", calendar),
    Route("/edit/calendar/add", add, methods=["POST"]),
    Route("/edit/calendar/remove", remove, methods=["POST"]),
    Route("/edit/calendar/{place}", change, methods=["GET", "POST"]),
]
