"""`/`: whether all is well, what rings next, how everything stands, and what can be done."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.civil import SECOND
from controller.page.asking import Seen
from controller.page.now_shown import NowShown, last_moment, now_shown
from controller.page.rendering import page
from controller.page.sessions import needs
from controller.pictures.spoken import how_long_ago


@needs("look")
async def now(request: Request) -> Response:
    """The whole page."""
    return _page(request, "now.html")


@needs("look")
async def part(request: Request) -> Response:
    """The part of it that changes, for the script."""
    return _page(request, "now_part.html")


def _page(request: Request, template: str) -> Response:
    seen: Seen = request.state.seen
    return page(request, template, now=_shown(seen), **_age(seen))


def _shown(seen: Seen) -> NowShown | None:
    """None where nothing is known, or nothing that this version understands."""
    if seen.picture is None:
        return None
    try:
        return now_shown(seen.picture)
    except (KeyError, TypeError, ValueError, AttributeError):
        if seen.live:
            raise
        return None


def _age(seen: Seen) -> dict[str, Any]:
    """How old what is shown is, where the daemon is down."""
    if seen.live or seen.picture is None:
        return {"age": "", "moment": ""}
    age = how_long_ago(int(seen.age_seconds * SECOND))
    return {"age": age, "moment": last_moment(seen.picture)}


ROUTES = [Route("/", now, methods=["GET"]), Route("/now/part", part, methods=["GET"])]
