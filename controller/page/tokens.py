"""Which machine asks, by the token that it brings (RFC 6750, 2.1)."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from controller.page.people import Person, Role, machine_by_token

_MOST_LETTERS = 200  # of a token; ours have 43
_SCHEME = "bearer"


def find_machine(request: Request) -> Person | None:
    """The machine whose token comes with this, if any; it is `request.state.person` from now on.

    A cookie does not count here, so no page of somebody else's can have a browser ask in a
    person's name. Raises `PeopleFault`.
    """
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    request.state.person = None
    if scheme.lower() == _SCHEME and 0 < len(token) <= _MOST_LETTERS:
        request.state.person = machine_by_token(request.app.state.people.now(), token.strip())
    found: Person | None = request.state.person
    return found


def refusal(machine: Person | None, role: Role) -> Response | None:
    """Why this machine may not do what needs that role (RFC 6750, 3); None where it may."""
    if machine is None:
        says = "Expected a token: Authorization: Bearer …; `understudy person token` makes one."
        return told(401, says, {"WWW-Authenticate": "Bearer"})
    if not machine.may(role):
        says = f"{machine.name} may {machine.role}; this is for those who may {role}."
        scope = f'Bearer error="insufficient_scope", scope="{role}"'
        return told(403, says, {"WWW-Authenticate": scope})
    return None


def told(status: int, says: str, headers: dict[str, str] | None = None) -> Response:
    """Why something is not done, for a program."""
    return JSONResponse({"ok": False, "says": says}, status, headers)
