"""The whole page: its routes, what they share, and what becomes of faults."""

from __future__ import annotations

import contextlib
from http import HTTPStatus
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from controller.building.faults import Faults
from controller.page import (
    acts,
    api,
    edit_calendar_pages,
    edit_pages,
    edit_plan_pages,
    edit_week_pages,
    logbook_pages,
    machines,
    metrics,
    now,
    rehearse_pages,
    sign_in,
    timetable_pages,
)
from controller.page.asking import Asking
from controller.page.forms import FormRefused
from controller.page.given_once import GivenOnce
from controller.page.headers import Headers
from controller.page.limits import RINGS_A_MINUTE, Rate, Tries
from controller.page.people import PeopleFault
from controller.page.rendering import page
from controller.page.sessions import NotAllowed, PeopleKept, Sessions, find_visitor
from controller.page.settings import Settings
from controller.page.tokens import told
from controller.service.order_client import NoDaemon, Refused

_STATIC = Path(__file__).with_name("static")
_PARTS = (
    now,
    acts,
    timetable_pages,
    edit_pages,
    edit_plan_pages,
    edit_week_pages,
    edit_calendar_pages,
    logbook_pages,
    rehearse_pages,
    sign_in,
    machines,
    metrics,
    api,
)


def site(settings: Settings) -> ASGIApp:
    """The application."""
    routes: list[Route | Mount] = [route for part in _PARTS for route in part.ROUTES]
    routes.append(Mount("/static", StaticFiles(directory=_STATIC)))
    app = Starlette(
        routes=routes,
        exception_handlers={
            HTTPException: _of_http,
            FormRefused: _form_refused,
            NotAllowed: _not_allowed,
            Refused: _refused,
            NoDaemon: _no_daemon,
            Faults: _faults,
            PeopleFault: _people_fault,
            ClientDisconnect: _gone,
            Exception: _unforeseen,
        },
    )
    app.state.settings = settings
    app.state.asking = Asking(settings)
    app.state.sessions = Sessions()
    app.state.people = PeopleKept(settings)
    app.state.tries = Tries()
    app.state.rings = Rate(RINGS_A_MINUTE)
    app.state.given_once = GivenOnce()
    app.state.building = None
    return Headers(app)  # around all of it: an answer to a fault has them, too


def _told(request: Request, status: int, title: str, *says: str) -> Response:
    if machines.is_for_machines(request):
        return told(status, " ".join(says))
    return page(request, "said.html", status=status, title=title, says=says)


async def _of_http(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, HTTPException)
    with contextlib.suppress(PeopleFault):  # then it is shown as to nobody
        find_visitor(request)  # there too, whoever is signed in finds on, and can stop the bells
    says = {404: "There is no such page.", 405: "That is not how this page is asked for."}
    words = says.get(fault.status_code, HTTPStatus(fault.status_code).phrase)
    response = _told(request, fault.status_code, "Not found here", words)
    response.headers.update(fault.headers or {})
    return response


async def _form_refused(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, FormRefused)
    return _told(request, fault.status, "Not done", str(fault))


async def _not_allowed(request: Request, fault: Exception) -> Response:
    return _told(request, 403, "Not allowed", str(fault))


async def _refused(request: Request, fault: Exception) -> Response:
    return _told(request, 409, "The daemon says no", *str(fault).splitlines())


async def _no_daemon(request: Request, fault: Exception) -> Response:
    return _told(request, 503, "The daemon does not answer", str(fault))


async def _faults(request: Request, fault: Exception) -> Response:
    return _told(request, 503, "The building’s files have faults", *str(fault).splitlines())


async def _people_fault(request: Request, fault: Exception) -> Response:
    return _told(request, 503, "Nobody can sign in", f"Who may do what cannot be read: {fault}.")


async def _gone(request: Request, fault: Exception) -> Response:
    return Response(status_code=400)  # nobody reads it any more


async def _unforeseen(request: Request, fault: Exception) -> Response:
    words = "A fault of the program, not of yours. The log of the page has it; please report it."
    return _told(request, 500, "Something went wrong here", words)
