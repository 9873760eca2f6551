"""`/api`: the orders for other programs, described, one POST each, in the name of a machine."""

from __future__ import annotations

import json
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from controller.page.api_description import description
from controller.page.asking import ask
from controller.page.forms import MOST_BYTES, MOST_EDIT_BYTES, FormRefused, body_of
from controller.page.limits import Rate
from controller.page.order_roles import ROLE_OF
from controller.page.tokens import find_machine, refusal, told
from controller.service.order_wire import json_of
from controller.service.order_words import NotUnderstood, words_in
from controller.service.orders import Words

_WITH_FILES = ("edit", "preview")  # their text is a whole file
_NOT_FOR_CALLERS = ("order", "id", "who")  # the address says the one, the page the others
_A_MINUTE = "60"


async def describe(request: Request) -> Response:
    """What can be ordered and how, as OpenAPI has it."""
    no = refusal(find_machine(request), "look")
    return JSONResponse(description()) if no is None else no


async def give(request: Request) -> Response:
    """Give one order; the daemon's answer. The site tells `Refused` (409) and `NoDaemon` (503)."""
    order, machine = request.path_params["order"], find_machine(request)
    no = refusal(machine, ROLE_OF.get(order, "look"))
    if no is not None or machine is None:
        return no or told(401, "")
    if order not in ROLE_OF:
        return told(404, "There is no such order; GET /api describes all.")
    try:
        words = await _words(request, order)
    except FormRefused as fault:
        return told(fault.status, str(fault))
    except NotUnderstood as fault:
        return told(400, str(fault))
    rings: Rate = request.app.state.rings
    if order == "ring" and not rings.take(machine.name):
        return told(429, "Rung too often; nothing was done.", {"Retry-After": _A_MINUTE})
    keys = words.model_dump(by_alias=True, exclude_unset=True, exclude={"order"})
    answer = await ask(request, order, **keys)
    return JSONResponse({key: value for key, value in answer.items() if key != "id"})


async def _words(request: Request, order: str) -> Words:
    """The order as the daemon would understand it. Raises `FormRefused` or `NotUnderstood`."""
    most = MOST_EDIT_BYTES if order in _WITH_FILES else MOST_BYTES
    body = await body_of(request, most)
    keys: Any = {}
    if body:
        kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
        if kind != "application/json":
            raise FormRefused(415, "expected JSON (application/json)")
        try:
            keys = json.loads(body)
        except (ValueError, RecursionError):
            raise NotUnderstood("not understood: expected one JSON object, in UTF-8") from None
    if not isinstance(keys, dict):
        raise NotUnderstood("not understood: expected a JSON object with the order's keys")
    for key in _NOT_FOR_CALLERS:
        if key in keys:
            raise NotUnderstood(f'{order}: "{key}" is not for callers: leave it out')
    try:
        line = json_of({"order": order, **keys})
    except (ValueError, RecursionError):  # NaN, which is no JSON
        raise NotUnderstood("not understood: expected plain JSON (RFC 8259)") from None
    return words_in(line)


ROUTES = [
    Route("/api", describe, methods=["GET"]),
    Route("/api/{order}", give, methods=["POST"]),
]
