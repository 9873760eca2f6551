"""`/edit`: what can be changed; an edit that was shown is saved; the last one is taken back."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.faults import Faults
from controller.building.values import WEEKDAYS, half_days_written
from controller.editing.document import Change
from controller.page.asking import ask
from controller.page.edit_begun import Begun, editing, judged, said
from controller.page.edit_seal import unsealed
from controller.page.edit_shown import shown
from controller.page.forms import form_again, form_of
from controller.page.rendering import page
from controller.service.order_client import Refused


@editing
async def index(request: Request, start: Begun) -> Response:
    """What can be changed, as it is now."""
    building = start.building
    days = {
        plan: [WEEKDAYS[day - 1].capitalize() for day, its in building.week.items() if its == plan]
        for plan in building.plans
    }
    quiet = {zone: ", ".join(half_days_written(row)) for zone, row in building.quiet.items()}
    return page(request, "edit.html", building=building, days=days, quiet=quiet)


@editing
async def save(request: Request, start: Begun) -> Response:
    """An edit that this page has shown to this person is given to the daemon."""
    form = await form_of(request)
    edit = unsealed(request.state.person.name, form.get("edit", ""))
    if edit is None:
        words = "This edit was not shown here, or the page was started anew since: begin it again."
        return said(request, "Not saved", [words], status=403)
    try:
        answer = await ask(request, "edit", file=edit.file, text=edit.text, was=edit.was)
    except Refused as no:
        return said(request, "Not saved", str(no).splitlines(), status=409)
    return page(request, "edit_saved.html", says=answer["says"])


@editing
async def undo(request: Request, start: Begun) -> Response:
    """What the last edit replaced is shown, to be put back."""
    await form_again(request)
    try:
        answer = await ask(request, "earlier")
    except Refused as no:
        return said(request, "Nothing to take back", [str(no)], status=409)
    change = Change(answer["file"], answer["text"])
    try:
        after = await judged(start, change)
    except Faults as faults:
        lines = str(faults).splitlines()
        return said(request, "The earlier file has faults by now", lines, status=409)
    at = start.building.civil.aware(answer["edited"])
    what = f"The edit of {at:%a} {at.day} {at:%B %Y, %H:%M} is taken back"
    return await shown(request, start, change, after, what)


ROUTES = [
    Route("/edit", index),
    Route("/edit/save", save, methods=["POST"]),
    Route("/edit/undo", undo, methods=["POST"]),
]
