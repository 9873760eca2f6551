"""`/edit/plan/…`: a plan's rings added, changed and removed; plans made and taken away."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.faults import Faults
from controller.building.values import RESERVED, is_name
from controller.editing.document import entries_of, with_plan, with_plan_like
from controller.editing.entry_changes import Added, EntryChange, Removed, Replaced
from controller.editing.keeper_file import EditRefused
from controller.page.edit_begun import (
    RIGHT,
    Begun,
    Wrong,
    begin_again,
    editing,
    judged,
    out_of_date,
    place_of,
    places_of,
    said,
    wrong_of,
)
from controller.page.edit_rings import (
    MOST_TIMES,
    changed_keys,
    field_of,
    keys_of_form,
    times_of,
    typed,
    typed_of,
)
from controller.page.edit_shown import shown
from controller.page.forms import form_again
from controller.page.rendering import page

_EMPTY: dict[str, Any] = {"at": "", "zones": [], "for": "", "strokes": "", "says": ""}


# ── a plan ───────────────────────────────────────────────────────────────────────────────────────


@editing
async def plan(request: Request, start: Begun) -> Response:
    """Its rings, and a form for more."""
    name = request.path_params["plan"]
    if name not in start.building.plans:
        return _no_plan(request, name)
    return _plan(request, start, name)


@editing
async def add(request: Request, start: Begun) -> Response:
    """Rings are added: one for each time that is given."""
    form, name = await form_again(request), request.path_params["plan"]
    if name not in start.building.plans:
        return _no_plan(request, name)
    if out_of_date(start, form):
        return begin_again(request)
    times = times_of(form)
    if len(times) > MOST_TIMES:
        wrong = Wrong({"at": [f"{len(times)} times; expected at most {MOST_TIMES} at once."]})
        return _plan(request, start, name, typed(form), wrong)
    rings = [keys_of_form(form, at) for at in times]
    changes = [Added(ring) for ring in rings]
    what = f"{name}: {_rings_at(times)} added"
    return await _changed(
        request,
        start,
        name,
        changes,
        rings,
        what,
        lambda wrong: _plan(request, start, name, typed(form), wrong),
    )


@editing
async def ring(request: Request, start: Begun) -> Response:
    """One ring, to be changed."""
    name = request.path_params["plan"]
    rings = start.building.plans.get(name, ())
    place = place_of(request.path_params["place"], len(rings))
    if place is None:
        return _no_plan(request, name)
    keys = entries_of(start.texts, f"plans.{name}")[place]
    if request.method != "POST":
        return _ring(request, start, name, place, typed_of(keys, start.building.zones))
    form = await form_again(request)
    if out_of_date(start, form):
        return begin_again(request)
    new = changed_keys(form, keys, start.building.zones)
    what = f"{name}: the ring of {typed_of(keys, ())['at']} is changed"
    return await _changed(
        request,
        start,
        name,
        [Replaced(place, new)],
        [new],
        what,
        lambda wrong: _ring(request, start, name, place, typed(form), wrong),
    )


@editing
async def remove(request: Request, start: Begun) -> Response:
    """The chosen rings go."""
    form, name = await form_again(request), request.path_params["plan"]
    rings = start.building.plans.get(name)
    if rings is None:
        return _no_plan(request, name)
    if out_of_date(start, form):
        return begin_again(request)
    places = places_of(form.all("ring"), len(rings))
    if not places:
        wrong = Wrong({"ring": ["Choose the rings that are to go."]})
        return _plan(request, start, name, None, wrong)
    times = [typed_of(one, ())["at"] for one in entries_of(start.texts, f"plans.{name}")]
    changes = [Removed(place) for place in places]
    return await _changed(
        request,
        start,
        name,
        changes,
        [],
        f"{name}: {_rings_at([times[place] for place in places])} removed",
        lambda wrong: _plan(request, start, name, None, wrong),
    )


@editing
async def delete(request: Request, start: Begun) -> Response:
    """A plan goes; the file is refused where it is used."""
    form, name = await form_again(request), request.path_params["plan"]
    if name not in start.building.plans:
        return _no_plan(request, name)
    if out_of_date(start, form):
        return begin_again(request)
    return await _changed(
        request,
        start,
        name,
        None,
        [],
        f"The plan {name} is removed",
        lambda wrong: _plan(request, start, name, None, wrong),
    )


@editing
async def make(request: Request, start: Begun) -> Response:
    """A new plan: empty, or as another is."""
    plans = start.building.plans
    if request.method != "POST":
        return _new(request, start, {"name": "", "like": ""})
    form = await form_again(request)
    if out_of_date(start, form):
        return begin_again(request)
    name, like = form.get("name", "").strip(), form.get("like", "")
    wrong: dict[str, list[str]] = {}
    if not is_name(name):
        expected = f"expected small letters, digits and -, at most 40, not {', '.join(RESERVED)}"
        wrong["name"] = [expected]
    elif name in plans:
        wrong["name"] = [f"there is a plan {name} already"]
    if like and like not in plans:
        wrong["like"] = ["expected a plan from the list"]
    kept = {"name": name, "like": like}
    if wrong:
        return _new(request, start, kept, Wrong(wrong))
    try:
        change = (
            with_plan_like(start.texts, name, like) if like else with_plan(start.texts, name, [])
        )
        after = await judged(start, change)
    except (EditRefused, Faults) as no:
        return _new(request, start, kept, Wrong({}, tuple(str(no).splitlines())))
    what = f"A new plan {name}, as {like} is" if like else f"A new plan {name}, with no ring yet"
    return await shown(request, start, change, after, what)


# ── parts ────────────────────────────────────────────────────────────────────────────────────────


async def _changed(
    request: Request,
    start: Begun,
    name: str,
    changes: Sequence[EntryChange] | None,
    rings: Sequence[dict[str, Any]],
    what: str,
    anew: Callable[[Wrong], Response],
) -> Response:
    """The change shown; where it has faults the form `anew`, with them at its fields."""
    try:
        change = await run_in_threadpool(with_plan, start.texts, name, changes)
    except EditRefused as no:
        return anew(Wrong({}, (str(no),)))
    try:
        after = await judged(start, change)
    except Faults as found:
        of = field_of(start.texts, change, name, rings)
        return anew(wrong_of(found.faults, of))
    return await shown(request, start, change, after, what)


def _plan(
    request: Request,
    start: Begun,
    name: str,
    fields: dict[str, Any] | None = None,
    wrong: Wrong = RIGHT,
) -> Response:
    building = start.building
    rings = [
        (place, typed_of(keys, building.zones))
        for place, keys in enumerate(entries_of(start.texts, f"plans.{name}"))
    ]
    rings.sort(key=lambda one: one[1]["at"])
    return page(
        request,
        "edit_plan.html",
        status=422 if wrong != RIGHT else 200,
        plan=name,
        rings=rings,
        zones=building.zones,
        fields=fields or _EMPTY,
        wrong=wrong,
        was=start.fingerprint,
    )


def _ring(
    request: Request,
    start: Begun,
    name: str,
    place: int,
    fields: dict[str, Any],
    wrong: Wrong = RIGHT,
) -> Response:
    return page(
        request,
        "edit_ring.html",
        status=422 if wrong != RIGHT else 200,
        plan=name,
        place=place,
        zones=start.building.zones,
        fields=fields,
        wrong=wrong,
        was=start.fingerprint,
    )


def _new(request: Request, start: Begun, fields: dict[str, str], wrong: Wrong = RIGHT) -> Response:
    return page(
        request,
        "edit_new_plan.html",
        status=422 if wrong != RIGHT else 200,
        options=[("", "none yet"), *((plan, f"as {plan}") for plan in start.building.plans)],
        fields=fields,
        wrong=wrong,
        was=start.fingerprint,
    )


def _rings_at(times: Sequence[str]) -> str:
    return f"rings at {', '.join(times)} are" if times[1:] else f"the ring at {times[0]} is"


def _no_plan(request: Request, name: str) -> Response:
    words = f"There is no plan {name}, or no such ring in it: perhaps it was changed meanwhile."
    return said(request, "Not found", [words], status=404)


ROUTES = [
    Route("/edit/plan", make, methods=["GET", "POST"]),
    Route("/edit/plan/{plan}", plan),
    Route("/edit/plan/{plan}/add", add, methods=["POST"]),
    Route("/edit/plan/{plan}/remove", remove, methods=["POST"]),
    Route("/edit/plan/{plan}/delete", delete, methods=["POST"]),
    Route("/edit/plan/{plan}/ring/{place}", ring, methods=["GET", "POST"]),
]
