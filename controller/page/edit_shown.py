"""A change shown before it is saved: what rings otherwise, what falls silent, which lines."""

from __future__ import annotations

import time
from datetime import date

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from controller.building.model import Building
from controller.editing.document import Change
from controller.editing.lines_changed import Line, lines_changed
from controller.page.asking import ask
from controller.page.edit_begun import Begun, said
from controller.page.edit_seal import Sealed, sealed
from controller.page.followed import followed
from controller.page.rendering import page
from controller.pictures.week import week_of
from controller.pictures.week_svg import week_svg
from controller.service.order_client import Refused
from controller.timetable.days import Timetable
from controller.timetable.differences import differences

_MOST_LINES = 400
_RELOAD = (
    "The files in the building's folder are others than those that run: somebody changed them by "
    "hand. Let them be taken up first (understudy reload), then begin again."
)


async def shown(
    request: Request, start: Begun, change: Change, after: Building, what: str
) -> Response:
    """The page on which an edit is confirmed. `what` it is, in words: "The plan exams goes"."""
    if start.texts.get(change.file) == change.text:
        words = f"{change.file} says so already: nothing is to be done."
        return said(request, "Nothing changes", [words], status=200)
    try:
        answer = await ask(request, "preview", file=change.file, text=change.text)
    except Refused as no:
        return said(request, "This cannot be saved", str(no).splitlines(), status=422)
    if answer["fingerprint"] != start.fingerprint:
        return said(request, "Not now", [_RELOAD], status=409)
    edit = Sealed(change.file, change.text, start.fingerprint)
    lines = await run_in_threadpool(_lines, start.texts[change.file], change.text)
    return page(
        request,
        "edit_shown.html",
        what=what,
        file=change.file,
        silences=answer["silences"],
        changes=answer["changes"],
        picture=await run_in_threadpool(
            _first_week, start.building, after, followed(request) or {}
        ),
        lines=lines,
        sealed=sealed(request.state.person.name, edit),
    )


def _lines(before: str, after: str) -> list[Line]:
    found = lines_changed(before, after)
    if len(found) <= _MOST_LINES:
        return found
    left = len(found) - _MOST_LINES
    return [*found[:_MOST_LINES], Line("more", None, f"and {left} lines more")]


def _first_week(before: Building, after: Building, follow: dict[date, str]) -> Markup | None:
    """The week of the first ring that would be otherwise, as it would be."""
    table = Timetable(after, follow)
    found = differences(Timetable(before, follow), table, time.time_ns())
    if not found:
        return None
    on = date.fromisoformat(found[0].written[:10])
    return Markup(week_svg(week_of(after, table, on)))
