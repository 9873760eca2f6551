"""Which machine asks, by the token that it brings (RFC 6750, 2.1)."""

from __future__ import annotations

import math

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from controller.page.limits import Tries
from controller.page.people import Person, Role, machine_by_token

_MOST_LETTERS = 200  # of a token; ours have 43
_SCHEME = "bearer"
_HOW = "Expected a token: Authorization: Bearer …; `understudy person token` makes one."


def find_machine(request: Request) -> Person | None:
    """The machine whose token comes with this, if any; it is `request.state.person` from now on.

    A cookie does not count here, so no page of somebody else's can have a browser ask in a
    person's name. A token that nobody has is a try that failed, apart from those of people: a
    program with an old token keeps nobody behind the same proxy out. Raises `PeopleFault`.
    """
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    request.state.person = None
    if scheme.lower() == _SCHEME and 0 < len(token) <= _MOST_LETTERS:
        request.state.person = machine_by_token(request.app.state.people.now(), token.strip())
    found: Person | None = request.state.person
    if found is None and token and scheme.lower() == _SCHEME:
        tries: Tries = request.app.state.tries
        if not tries.wait(_address(request)):
            tries.failed(_address(request))
    return found


def refusal(request: Request, machine: Person | None, role: Role) -> Response | None:
    """Why this machine may not do what needs that role (RFC 6750, 3); None where it may.

    A right token is heard however many wrong ones came: at 256 bits it is none that was guessed,
    and `stop` must not wait for another's tries.
    """
    if machine is None:
        tries: Tries = request.app.state.tries
        wait = tries.wait(_address(request))
        if wait:
            says = f"Too many tokens that nobody has. Wait {math.ceil(wait)} s."
            return told(429, says, {"Retry-After": f"{math.ceil(wait)}"})
        return told(401, _HOW, {"WWW-Authenticate": "Bearer"})
    if not machine.may(role):
        scope = f'Bearer error="insufficient_scope", scope="{role}"'
        return told(403, machine.refused(role), {"WWW-Authenticate": scope})
    return None


def _address(request: Request) -> tuple[str, str]:
    return "token", request.client.host if request.client else ""


def told(status: int, says: str, headers: dict[str, str] | None = None) -> Response:
    """Why something is not done, for a program."""
    return JSONResponse({"ok": False, "says": says}, status, headers)
