"""`/rehearse`: a stretch of days played through on virtual time, with a cut if one is wanted."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from controller.building.civil import CivilTime
from controller.building.faults import Faults
from controller.building.sheets import sources
from controller.page.asking import ask
from controller.page.building_texts import building_of_texts
from controller.page.forms import form_again
from controller.page.rehearsal_asked import (
    RehearsalForm,
    form_of_fields,
    script_of,
    usual_form,
)
from controller.page.rehearsals import Rehearsal, Rehearsals
from controller.page.rendering import building_now, page
from controller.page.sessions import needs
from controller.service.order_client import NoDaemon

_PATIENCE_SECONDS = 6.0  # within which most are done; then the person looks again
_REHEARSALS = Rehearsals()  # one at a time on this machine, whoever asks


@needs("act")
async def rehearse(request: Request) -> Response:
    """The form, and the last rehearsal; or a rehearsal begun."""
    building = await building_now(request)
    if request.method != "POST":
        return _page(request, _form_at_first(request.state.person.name, building.civil), {})
    form = form_of_fields(await form_again(request))
    script, wrong = script_of(form, building.civil)
    if script is None:
        return _page(request, form, wrong, status=422)
    path, texts = await _texts(request)
    await run_in_threadpool(building_of_texts, path, texts)  # its faults are told here
    who = request.state.person.name
    begun = _REHEARSALS.start(who, form, path, texts, script)
    if begun is None:
        wrong = {"": "A rehearsal is under way: there is one at a time. Wait for it, or end it."}
        return _page(request, form, wrong, status=409)
    await run_in_threadpool(begun.done.wait, _PATIENCE_SECONDS)
    return RedirectResponse("/rehearse#result", status_code=303)


@needs("act")
async def end(request: Request) -> Response:
    """The rehearsal under way is ended."""
    await form_again(request)
    _REHEARSALS.end()
    return RedirectResponse("/rehearse", status_code=303)


def _form_at_first(who: str, civil: CivilTime) -> RehearsalForm:
    """What the same person asked for last, so that a little of it can be changed; else a week."""
    last = _REHEARSALS.last
    if last is not None and last.who == who:
        return last.form
    return usual_form(civil, time.time_ns())


async def _texts(request: Request) -> tuple[str, dict[str, str]]:
    """The building's path and files: as they run, else as they lie there."""
    try:
        answer = await ask(request, "files")
        return answer["path"], answer["files"]
    except NoDaemon:
        path: Path = request.app.state.settings.path
        files, faults = await run_in_threadpool(sources, path)
        if faults:
            raise Faults(faults) from None
        names = {Path(one.file).name: one.content.decode(errors="replace") for one in files}
        return str(path), names


def _page(
    request: Request, form: RehearsalForm, wrong: dict[str, str], *, status: int = 200
) -> Response:
    last = _REHEARSALS.last
    return page(
        request,
        "rehearse.html",
        status=status,
        form=form,
        wrong=wrong,
        at={key: [says] for key, says in wrong.items()},
        last=last,
        running=last is not None and not last.done.is_set(),
        seconds=0 if last is None else int(time.monotonic() - last.began),
        **_result(last),
    )


def _result(last: Rehearsal | None) -> dict[str, Any]:
    result = None if last is None else last.result
    picture = Markup(result["picture"]) if result else None
    return {"result": result, "picture": picture}


ROUTES = [
    Route("/rehearse", rehearse, methods=["GET", "POST"]),
    Route("/rehearse/end", end, methods=["POST"]),
]
