"""`/sign-in` and `/sign-out`."""

from __future__ import annotations

import math

import anyio
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from controller.page.forms import fields_of, form_again
from controller.page.limits import Tries
from controller.page.people import MOST_PASSWORD, NAME, People, person_by_password
from controller.page.rendering import page
from controller.page.sessions import (
    LONGEST_SECONDS,
    SECURE_COOKIE,
    Sessions,
    cookie_name,
    find_visitor,
    needs,
)

MOST_HASHES_AT_ONCE = 1  # 19 MiB each; who floods the page waits for himself
_HASHING = anyio.CapacityLimiter(MOST_HASHES_AT_ONCE)
_MOST_PLACE = 500  # letters
_WRONG = "Name or password are not right."


async def ask_in(request: Request) -> Response:
    """Ask for name and password."""
    find_visitor(request)
    return _page(request, _place(request.query_params.get("to", "")), "")


async def sign_in(request: Request) -> Response:
    """See whether they are right."""
    fields = await fields_of(request)
    find_visitor(request)
    name, password = fields.get("name", "").strip().lower(), fields.get("password", "")
    to = _place(fields.get("to", ""))
    tries: Tries = request.app.state.tries
    keys = ("name", name[:40]), ("address", request.client.host if request.client else "")
    wait = tries.wait(*keys)
    if wait:
        words = f"Too many tries have failed. Wait {math.ceil(wait)} s, and try again."
        return _page(request, to, words, status=429, retry_after=wait)
    tries.failed(*keys)  # before the hashing, so that many at once are counted, too
    people: People = request.app.state.people.now()
    person = None
    if NAME.fullmatch(name) and len(password) <= MOST_PASSWORD:
        person = await anyio.to_thread.run_sync(
            person_by_password, people, name, password, limiter=_HASHING
        )
    if person is None:
        return _page(request, to, _WRONG, status=403)
    tries.forget(*keys)
    return _signed_in(request, person.name, people.people[person.name].password, to)


@needs("look")
async def sign_out(request: Request) -> Response:
    """Forget who this is."""
    await form_again(request)
    sessions: Sessions = request.app.state.sessions
    sessions.end(request.cookies.get(cookie_name(request), ""))
    response = RedirectResponse("/sign-in", status_code=303)
    response.delete_cookie(cookie_name(request), path="/")
    return response


def _signed_in(request: Request, name: str, password_hash: str, to: str) -> Response:
    sessions: Sessions = request.app.state.sessions
    # Never go on with a session that was there before.
    sessions.end(request.cookies.get(cookie_name(request), ""))
    response = RedirectResponse(to, status_code=303)
    secure = cookie_name(request) == SECURE_COOKIE
    response.set_cookie(
        cookie_name(request),
        sessions.begin(name, password_hash),
        max_age=LONGEST_SECONDS,
        path="/",
        secure=secure,
        httponly=True,
        samesite="lax",
    )
    return response


def _page(
    request: Request, to: str, wrong: str, *, status: int = 200, retry_after: float = 0.0
) -> Response:
    nobody = not request.app.state.people.now().people
    response = page(request, "sign_in.html", status=status, to=to, wrong=wrong, nobody=nobody)
    if retry_after:
        response.headers["Retry-After"] = f"{math.ceil(retry_after)}"
    return response


def _place(to: str) -> str:
    """Where to go on: a page of ours, and nothing else."""
    # One slash, and no second: a browser takes \ for one, and leaves tabs and line ends out (URL
    # standard, "basic URL parser").
    if not to.startswith("/") or to.startswith("//") or "\\" in to or not to.isprintable():
        return "/"
    return to if len(to) <= _MOST_PLACE else "/"


ROUTES = [
    Route("/sign-in", ask_in, methods=["GET"]),
    Route("/sign-in", sign_in, methods=["POST"]),
    Route("/sign-out", sign_out, methods=["POST"]),
]
