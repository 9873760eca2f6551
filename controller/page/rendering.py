"""Pages from their templates, and the building that they are about."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from controller.building.file import fingerprint_of, read
from controller.building.model import Building
from controller.page.asking import ask
from controller.page.building_texts import building_of_texts
from controller.service.order_client import NoDaemon


@cache
def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("controller.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(request: Request, template: str, *, status: int = 200, **context: Any) -> Response:
    """A page. To what it is given comes who looks, a mark for its forms, and the state."""
    session = getattr(request.state, "session", None)
    text = (
        _templates()
        .get_template(template)
        .render(
            person=getattr(request.state, "person", None),
            csrf="" if session is None else session.mark(),
            seen=getattr(request.state, "seen", None),
            here=request.url.path,
            **context,
        )
    )
    return HTMLResponse(text, status_code=status)


async def building_now(request: Request) -> Building:
    """The building as the daemon has it; as its files lie there, where no daemon answers.

    Raises `Faults`, or `Refused` where the daemon says no.
    """
    state, live = request.app.state, request.state.seen
    kept: Building | None = state.building
    if live.live and kept is not None and kept.fingerprint == live.picture["fingerprint"]:
        return kept
    try:
        answer = await ask(request, "files")
        found = await run_in_threadpool(building_of_texts, answer["path"], answer["files"])
    except NoDaemon:
        path = state.settings.path
        if kept is not None and kept.fingerprint == await run_in_threadpool(fingerprint_of, path):
            return kept
        found = await run_in_threadpool(read, path)
    state.building = found
    return found
