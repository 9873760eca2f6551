"""`/timetable`: a week, and a year, each as a picture and as a table of the same."""

from __future__ import annotations

import re
import time
from datetime import date, timedelta

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.civil import YEARS
from controller.building.model import Building
from controller.page.followed import followed
from controller.page.rendering import building_now, page
from controller.page.sessions import needs
from controller.page.week_table import DayTable, week_table
from controller.page.year_table import departures
from controller.pictures.week import Week, week_of
from controller.pictures.week_svg import week_svg
from controller.pictures.year import Year, year_of
from controller.pictures.year_svg import year_svg
from controller.timetable.days import Timetable

_WEEK = re.compile(r"(?P<year>[0-9]{4})-W(?P<week>[0-9]{2})")
_YEAR = re.compile(r"(?P<year>[0-9]{4})(?:-(?P<month>0[1-9]|1[0-2]))?")
_FROM_FILES = "From the files: what a daemon was ordered to follow is not in it."


@needs("look")
async def week(request: Request) -> Response:
    """The week that is asked for, else the one now."""
    building, follow, remark = await _now(request)
    today = building.civil.date_at(time.time_ns())
    text = request.query_params.get("week", "")
    monday = _monday(text) if text else today
    if monday is None:
        return _no_such(request, text[:20], "a week such as 2026-W48")
    found, table, picture = await run_in_threadpool(_week, building, follow, monday, remark)
    first = found.days[0].date
    return page(
        request,
        "week.html",
        week=found,
        table=table,
        picture=picture,
        earlier=_week_key(first - timedelta(days=7)),
        later=_week_key(first + timedelta(days=7)),
        is_now=first <= today < first + timedelta(days=7),
        year=first.year,
    )


@needs("look")
async def year(request: Request) -> Response:
    """The year that is asked for, or the twelve months; else this year."""
    building, follow, remark = await _now(request)
    today = building.civil.date_at(time.time_ns())
    text = request.query_params.get("year", "")
    first = _first(text) if text else date(today.year, 1, 1)
    if first is None:
        return _no_such(request, text[:20], "a year, or its first month, such as 2026 or 2026-09")
    found, picture = await run_in_threadpool(_year, building, follow, first, remark)
    return page(
        request,
        "year.html",
        year=found,
        departures=departures(found),
        picture=picture,
        earlier=f"{first.year - 1}{f'-{first:%m}' if first.month > 1 else ''}",
        later=f"{first.year + 1}{f'-{first:%m}' if first.month > 1 else ''}",
        is_now=first <= today < first.replace(year=first.year + 1),
    )


async def _now(request: Request) -> tuple[Building, dict[date, str], str]:
    """The building, the orders that a date follows another plan, and what is to be said of them."""
    building, follow = await building_now(request), followed(request)
    return building, follow or {}, _FROM_FILES if follow is None else ""


def _week(
    building: Building, follow: dict[date, str], on: date, remark: str
) -> tuple[Week, list[DayTable], Markup]:
    found = week_of(building, Timetable(building, follow), on, remark)
    return found, week_table(found), Markup(week_svg(found))


def _year(
    building: Building, follow: dict[date, str], first: date, remark: str
) -> tuple[Year, Markup]:
    found = year_of(building, Timetable(building, follow), first, remark)
    return found, Markup(year_svg(found))


def _monday(text: str) -> date | None:
    match = _WEEK.fullmatch(text)
    if match is None or not YEARS[0] < int(match["year"]) < YEARS[1]:
        return None
    try:
        return date.fromisocalendar(int(match["year"]), int(match["week"]), 1)
    except ValueError:
        return None


def _first(text: str) -> date | None:
    match = _YEAR.fullmatch(text)
    if match is None or not YEARS[0] < int(match["year"]) < YEARS[1]:
        return None
    return date(int(match["year"]), int(match["month"] or 1), 1)


def _week_key(monday: date) -> str:
    year, number, _ = monday.isocalendar()
    return f"{year}-W{number:02d}"


def _no_such(request: Request, text: str, expected: str) -> Response:
    says = [f"{text!r}: expected {expected}, from {YEARS[0] + 1} to {YEARS[1] - 1}."]
    return page(request, "said.html", status=404, title="No such page", says=says)


ROUTES = [Route("/timetable", week), Route("/timetable/year", year)]
