"""`/act/…`: what a person does. Each act has a page that says what it will do, and one that tells
what the daemon answered and how to take it back.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from controller.building.model import Building
from controller.editing.typed import length_of
from controller.page.act_times import in_an_hour, next_half
from controller.page.act_words import ACTS, ALL, OF_LINES, explained, link_to, way_back
from controller.page.asking import Seen, ask
from controller.page.forms import FormRefused, form_again, form_of
from controller.page.limits import RINGS_A_MINUTE, Rate
from controller.page.rendering import building_now, page
from controller.page.sessions import needs
from controller.service.order_client import NoDaemon, Refused

_USUAL_LENGTH = "3"  # seconds, as in the order
_PLANS = ("none", "usual")


class Asked(NamedTuple):
    """An order about a zone, a line, or neither, in this building."""

    order: str
    subject: str
    building: Building

    @property
    def it(self) -> str:
        """What it is about, for people."""
        if self.subject == ALL:
            return "all zones"
        zone, line = (of.get(self.subject) for of in (self.building.zones, self.building.lines))
        found = zone if ACTS[self.order].about == "zone" else line
        return (found.title or self.subject) if found is not None else self.subject

    @property
    def alternating(self) -> bool:
        """Whether it is about a line whose polarity counts."""
        line = self.building.lines.get(self.subject)
        return line is not None and line.drive == "alternating"


@needs("act")
async def form(request: Request) -> Response:
    """What an act will do, to be confirmed."""
    asked = await _asked(request)
    query = request.query_params
    typed = {"for": _USUAL_LENGTH, "until": "hour", "impulses": "1", "plan": "none"}
    typed |= {key: query[key] for key in ("date", "plan", "fault") if key in query}
    return _form(request, asked, typed)


@needs("act")
async def give(request: Request) -> Response:
    """The order is given; what came of it, and how to take it back."""
    order = request.path_params["order"]
    # Whoever presses `stop` twice means it.
    sent = await (form_again(request) if order == "stop" else form_of(request))
    if order == "stop":
        answer = await ask(request, "stop")
        return page(
            request, "act_done.html", title="Stop all bells", says=answer["says"], back=None
        )
    asked = await _asked(request)
    rings: Rate = request.app.state.rings
    if order == "ring" and not rings.take(request.state.person.name):
        words = (
            f"Rung too often: at most {RINGS_A_MINUTE} times a minute from here. Nothing was done."
        )
        raise FormRefused(429, words)
    try:
        keys = keys_of(asked, sent, time.time_ns())
        answer = await ask(request, order, **keys)
    except (Refused, ValueError) as no:
        return _form(request, asked, dict(sent), wrong=str(no).splitlines(), status=409)
    back = way_back(order, asked.subject, keys)
    title = ACTS[order].title.format(it=asked.it)
    return page(request, "act_done.html", title=title, says=answer["says"], back=back)


@needs("act")
async def line(request: Request) -> Response:
    """All that can be said to one line."""
    picture = _picture(request)
    name = request.path_params["line"]
    if name not in picture["lines"]:
        raise HTTPException(404)
    told = picture["lines"][name]
    acts = [(link_to(order, name), explained(order)) for order in OF_LINES]
    title = told["title"] or name
    return page(request, "act_line.html", title=title, says=told["says"], acts=acts)


def _picture(request: Request) -> Mapping[str, Any]:
    """The state now. Raises `NoDaemon`: nothing can be done without one."""
    seen: Seen = request.state.seen
    if not seen.live or seen.picture is None:
        raise NoDaemon(
            f"Nothing can be done from here until it runs again. {seen.why}", may_run=False
        )
    return seen.picture


async def _asked(request: Request) -> Asked:
    """What the address names. `HTTPException` where there is no such act, zone or line."""
    order, subject = request.path_params["order"], request.path_params.get("subject", "")
    if order not in ACTS:
        raise HTTPException(404)
    _picture(request)
    building = await building_now(request)
    known: Mapping[str, list[str]] = {
        "zone": [ALL, *building.zones],
        "line": list(building.lines),
        "": [""],
    }
    if subject not in known[ACTS[order].about]:
        raise HTTPException(404)
    return Asked(order, subject, building)


def _form(
    request: Request,
    asked: Asked,
    typed: Mapping[str, str],
    *,
    wrong: list[str] | None = None,
    status: int = 200,
) -> Response:
    act, building = ACTS[asked.order], asked.building
    half, _ = next_half(building.civil, building.halves, time.time_ns())
    return page(
        request,
        "act.html",
        status=status,
        act=act,
        title=act.title.format(it=asked.it),
        explained=explained(asked.order),
        typed=typed,
        wrong=wrong or [],
        half=half,
        today=building.civil.date_at(time.time_ns()).isoformat(),
        plans=[(plan, plan) for plan in (*building.plans, *_PLANS)],
        alternating=asked.alternating,
    )


# ── from the fields to the order's keys ──────────────────────────────────────────────────────────


def keys_of(asked: Asked, form: Mapping[str, str], now: int) -> dict[str, Any]:
    """What is said to the daemon. Raises `ValueError` in words for what cannot be made out."""
    act = ACTS[asked.order]
    keys: dict[str, Any] = {}
    if act.about == "zone":
        keys["zones"] = [asked.subject]
    elif act.about == "line":
        keys["line"] = asked.subject
    for field in act.fields:
        keys |= _FIELDS[field](asked, form, now)
    return keys


def _until(asked: Asked, form: Mapping[str, str], now: int) -> dict[str, Any]:
    building = asked.building
    match form.get("until", ""):
        case "hour":
            return {"until": in_an_hour(building.civil, now)}
        case "half":
            return {"until": next_half(building.civil, building.halves, now)[1]}
    if not form.get("time", "").strip():
        raise ValueError("Say until when.")
    return {"until": form["time"].strip()}


def _impulses(_: Asked, form: Mapping[str, str], now: int) -> dict[str, Any]:
    text = form.get("impulses", "").strip()
    if not (text.isascii() and text.isdigit() and len(text) <= 4):
        raise ValueError("How many: expected a whole number, such as 1.")
    return {"impulses": int(text)}


def _polarity(asked: Asked, form: Mapping[str, str], now: int) -> dict[str, Any]:
    return {"polarity": form.get("polarity", "")} if asked.alternating else {}


def _plain(name: str) -> Callable[[Asked, Mapping[str, str], int], dict[str, Any]]:
    return lambda asked, form, now: {name: form.get(name, "").strip()}


_FIELDS: Mapping[str, Callable[[Asked, Mapping[str, str], int], dict[str, Any]]] = {
    "for": lambda asked, form, now: {"for": length_of(form.get("for", ""))},
    "until": _until,
    "impulses": _impulses,
    "polarity": _polarity,
    **{name: _plain(name) for name in ("date", "plan", "shows", "fault")},
}

ROUTES = [
    Route("/act/line/{line}", line, methods=["GET"]),
    Route("/act/{order}", form, methods=["GET"]),
    Route("/act/{order}", give, methods=["POST"]),
    Route("/act/{order}/{subject}", form, methods=["GET"]),
    Route("/act/{order}/{subject}", give, methods=["POST"]),
]
