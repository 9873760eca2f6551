"""For other programs: `/health`, `/metrics`, and the orders as a described JSON interface."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from controller.page.asking import seen

_OURS = ("/health", "/metrics", "/api")


def is_for_machines(request: Request) -> bool:
    """Whether faults are told as JSON there, and not as a page."""
    return request.url.path.startswith(_OURS)


async def health(request: Request) -> Response:
    """200 where a daemon answers and all is well, else 503. Anybody may ask."""
    state = await seen(request)
    well = state.live and state.picture is not None and state.picture["well"]
    words = "well" if well else "not well" if state.live else "the daemon does not answer"
    return PlainTextResponse(f"{words}\n", 200 if well else 503)


ROUTES = [Route("/health", health)]
