"""`/api`: the orders for other programs, described, each given in the name of a machine."""

from __future__ import annotations

import json
from hashlib import sha256
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from controller.page.api_description import description
from controller.page.asking import ask
from controller.page.forms import MOST_BYTES, MOST_EDIT_BYTES, FormRefused, body_of
from controller.page.given_once import HEADER, Answer, GivenOnce, number_of
from controller.page.limits import Rate
from controller.page.order_roles import ONCE, ROLE_OF, TOLD
from controller.page.people import Person
from controller.page.tokens import find_machine, refusal, told
from controller.service.order_client import NoDaemon, Refused
from controller.service.order_wire import json_of
from controller.service.order_words import NotUnderstood, words_in
from controller.service.orders import ORDERS, Words

_WITH_FILES = ("edit", "preview")  # their text is a whole file
_NOT_FOR_CALLERS = ("order", "id", "who")  # the address says the one, the page the others
_A_MINUTE = "60"
_MOST_DIGITS = 20


async def describe(request: Request) -> Response:
    """What can be ordered and how, as OpenAPI has it."""
    no = refusal(request, find_machine(request), "look")
    return JSONResponse(description()) if no is None else no


async def tell(request: Request) -> Response:
    """What changes nothing, asked for by GET."""
    order, machine = request.path_params["order"], find_machine(request)
    no = refusal(request, machine, ROLE_OF[order] if order in TOLD else "look")
    if no is not None:
        return no
    if order not in TOLD:
        return _no_such()
    try:
        return _done(await ask(request, order, **_keys(_asked_for(request, order))))
    except NotUnderstood as fault:
        return told(400, str(fault))


async def give(request: Request) -> Response:
    """Give one order; the daemon's answer. The site tells `Refused` (409) and `NoDaemon` (503)."""
    order, machine = request.path_params["order"], find_machine(request)
    no = refusal(request, machine, ROLE_OF.get(order, "look"))
    if no is not None or machine is None:
        return no or told(401, "")
    if order not in ROLE_OF or order in TOLD:
        return _no_such()
    try:
        number = number_of(request.headers.get(HEADER)) if order in ONCE else ""
        words = await _words(request, order)
        if order in ONCE:
            return await _once(request, machine, number, words)
    except FormRefused as fault:
        return told(fault.status, str(fault), _wait(fault.status))
    except NotUnderstood as fault:
        return told(400, str(fault))
    return _done(await ask(request, order, **_keys(words)))


async def _once(request: Request, machine: Person, number: str, words: Words) -> Response:
    """Give it, unless it was given before: then the same answer, and nothing is done."""
    once: GivenOnce = request.app.state.given_once
    rings: Rate = request.app.state.rings
    what = sha256(words.model_dump_json(exclude_unset=True).encode()).digest()
    before = once.before(machine.name, number, what)
    if before is not None:
        return JSONResponse(before.content, before.status)
    if words.order == "ring" and not rings.take(machine.name):
        raise FormRefused(429, "Rung too often; nothing was done.")
    once.begin(machine.name, number, what)
    # An order whose answer is lost may have been obeyed: it is not tried again by this number.
    answer = Answer(503, {"ok": False, "says": "What came of it is not known."})
    try:
        answer = Answer(200, _told(await ask(request, words.order, **_keys(words))))
    except Refused as fault:
        answer = Answer(409, {"ok": False, "says": str(fault)})
    except NoDaemon as fault:
        answer = Answer(503, {"ok": False, "says": str(fault)})
    finally:
        once.end(machine.name, number, answer)
    return JSONResponse(answer.content, answer.status)


def _no_such() -> Response:
    return told(404, "There is no such order; GET /api describes all.")


def _wait(status: int) -> dict[str, str]:
    return {"Retry-After": _A_MINUTE} if status == 429 else {}


def _done(answer: dict[str, Any]) -> Response:
    return JSONResponse(_told(answer))


def _told(answer: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in answer.items() if key != "id"}


# ── what was said, as the daemon would understand it ─────────────────────────────────────────────


def _keys(words: Words) -> dict[str, Any]:
    return words.model_dump(by_alias=True, exclude_unset=True, exclude={"order"})


def _asked_for(request: Request, order: str) -> Words:
    """The order of an address and its query. Raises `NotUnderstood`."""
    keys: dict[str, Any] = {}
    fields = ORDERS[order].model_fields
    whole = {name for name, field in fields.items() if field.annotation is not str}
    for key, text in request.query_params.multi_items():
        if key in keys:
            raise NotUnderstood(f'{order}: "{key[:_MOST_DIGITS]}" is said twice')
        digits = key in whole and text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS
        keys[key] = int(text) if digits else text
    return _order(order, keys)


async def _words(request: Request, order: str) -> Words:
    """The order of an address and its body. Raises `FormRefused` or `NotUnderstood`."""
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
    return _order(order, keys)


def _order(order: str, keys: dict[str, Any]) -> Words:
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
    Route("/api/{order}", tell, methods=["GET"]),
    Route("/api/orders/{order}", give, methods=["POST"]),
]
