"""`/edit/week` and `/edit/quiet`: which plan a weekday has, and when a zone is kept quiet."""

from __future__ import annotations

from calendar import day_name

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.faults import Fault, Faults
from controller.building.values import NO_RINGS, WEEKDAYS, HalfDay, half_days_written
from controller.editing.document import with_quiet, with_week
from controller.editing.keeper_file import EditRefused
from controller.page.edit_begun import (
    RIGHT,
    Begun,
    Wrong,
    begin_again,
    editing,
    judged,
    out_of_date,
    wrong_of,
)
from controller.page.edit_shown import shown
from controller.page.forms import form_again
from controller.page.rendering import page

_HALVES: tuple[HalfDay, ...] = tuple(
    (number, half) for number in range(1, 8) for half in ("day", "night")
)


# ── the week ─────────────────────────────────────────────────────────────────────────────────────


@editing
async def week(request: Request, start: Begun) -> Response:
    """Each weekday's plan."""
    building = start.building
    now = {day: building.week.get(number, "") for number, day in enumerate(WEEKDAYS, 1)}
    if request.method != "POST":
        return _week(request, start, now)
    form = await form_again(request)
    if out_of_date(start, form):
        return begin_again(request)
    wanted = {day: form.get(day, now[day]) for day in WEEKDAYS}
    days = {day: plan or None for day, plan in wanted.items() if plan != now[day]}
    try:
        change = await run_in_threadpool(with_week, start.texts, days)
        after = await judged(start, change)
    except EditRefused as no:
        return _week(request, start, wanted, Wrong({}, (str(no),)))
    except Faults as faults:
        return _week(request, start, wanted, wrong_of(faults.faults, _field_of_week))
    told = "; ".join(
        f"{day.capitalize()}: {now[day] or 'no plan'} → {days[day] or 'no plan'}" for day in days
    )
    return await shown(request, start, change, after, f"The week. {told}")


def _field_of_week(fault: Fault) -> str | None:
    return fault.key if fault.table == "[week]" and fault.key in WEEKDAYS else None


def _week(request: Request, start: Begun, fields: dict[str, str], wrong: Wrong = RIGHT) -> Response:
    return page(
        request,
        "edit_week.html",
        status=422 if wrong != RIGHT else 200,
        weekdays=list(zip(WEEKDAYS, day_name, strict=True)),
        plans=[("", "no plan"), *((plan, plan) for plan in (*start.building.plans, NO_RINGS))],
        tape=start.building.tape is not None,
        fields=fields,
        wrong=wrong,
        was=start.fingerprint,
    )


# ── quiet rows ───────────────────────────────────────────────────────────────────────────────────


@editing
async def quiet(request: Request, start: Begun) -> Response:
    """Each zone's half-days without bells."""
    building = start.building
    now = {zone: building.quiet.get(zone, frozenset()) for zone in building.zones}
    if request.method != "POST":
        return _quiet(request, start, now)
    form = await form_again(request)
    if out_of_date(start, form):
        return begin_again(request)
    wanted = {
        zone: frozenset(one for one in _HALVES if _name(one) in form.all(f"quiet-{zone}"))
        for zone in building.zones
    }
    rows = {
        zone: list(half_days_written(row)) or None
        for zone, row in wanted.items()
        if row != now[zone]
    }
    try:
        change = await run_in_threadpool(with_quiet, start.texts, rows)
        after = await judged(start, change)
    except EditRefused as no:
        return _quiet(request, start, wanted, Wrong({}, (str(no),)))
    except Faults as faults:
        return _quiet(request, start, wanted, Wrong({}, tuple(str(faults).splitlines())))
    told = "; ".join(
        f"{zone}: {', '.join(row) if row else 'never quiet'}" for zone, row in rows.items()
    )
    return await shown(request, start, change, after, f"Quiet rows. {told}")


def _name(half_day: HalfDay) -> str:
    """ "mon night"."""
    return f"{WEEKDAYS[half_day[0] - 1]} {half_day[1]}"


def _quiet(
    request: Request,
    start: Begun,
    rows: dict[str, frozenset[HalfDay]],
    wrong: Wrong = RIGHT,
) -> Response:
    chosen = {zone: {_name(one) for one in row} for zone, row in rows.items()}
    return page(
        request,
        "edit_quiet.html",
        status=422 if wrong != RIGHT else 200,
        zones=start.building.zones,
        weekdays=WEEKDAYS,
        halves=start.building.halves,
        chosen=chosen,
        wrong=wrong,
        was=start.fingerprint,
    )


ROUTES = [
    Route("/edit/week", week, methods=["GET", "POST"]),
    Route("/edit/quiet", quiet, methods=["GET", "POST"]),
]
