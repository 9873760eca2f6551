"""What an edit begins from: the files that the daemon runs. And what is wrong with its outcome."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import NamedTuple

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from controller.building.faults import Fault
from controller.building.model import Building
from controller.editing.document import Change
from controller.page.asking import ask
from controller.page.building_texts import building_of_texts
from controller.page.forms import Form
from controller.page.rendering import page
from controller.page.sessions import Handler, needs
from controller.service.order_client import NoDaemon

_MOST_DIGITS = 6
_MOST_LETTERS = 1_000


class Begun(NamedTuple):
    """The files from which an edit begins."""

    path: str  # the building's file or folder, as the daemon has it
    texts: dict[str, str]  # by name
    fingerprint: str
    building: Building


async def begun(request: Request) -> Begun:
    """The files now. Raises `NoDaemon`, `Refused`, or `Faults` where they cannot be read here."""
    answer = await ask(request, "files")
    path, texts = answer["path"], answer["files"]
    building = await run_in_threadpool(building_of_texts, path, texts)
    return Begun(path, texts, building.fingerprint, building)


async def judged(start: Begun, change: Change) -> Building:
    """The building as it would be. Raises `Faults`, with every fault of the whole outcome."""
    texts = {**start.texts, change.file: change.text}
    return await run_in_threadpool(building_of_texts, start.path, texts)


class Wrong(NamedTuple):
    """What is wrong with a form: at its fields, and the rest."""

    at: dict[str, list[str]] = {}  # noqa: RUF012  field → what is wrong there
    rest: tuple[str, ...] = ()


RIGHT = Wrong()


def wrong_of(faults: Iterable[Fault], field_of: Callable[[Fault], str | None]) -> Wrong:
    """Faults of the file at the fields from which they come; `field_of` names it, or None."""
    at: dict[str, list[str]] = {}
    rest: list[str] = []
    for fault in faults:
        field = field_of(fault)
        if field is None:
            rest.append(str(fault._replace(file=Path(fault.file).name)))
            continue
        says = fault.expected if fault.value is None else f"{fault.value}: {fault.expected}"
        if says not in at.setdefault(field, []):
            at[field].append(says)
    return Wrong(at, tuple(dict.fromkeys(rest)))


# ── the ways of every page that edits ────────────────────────────────────────────────────────────


def editing(handler: Callable[[Request, Begun], Awaitable[Response]]) -> Handler:
    """A page for those who may edit; it says so in its own words where no daemon is there."""

    @needs("edit")
    @wraps(handler)
    async def guarded(request: Request) -> Response:
        try:
            start = await begun(request)
        except NoDaemon as gone:
            return page(request, "edit_away.html", status=503, says=str(gone))
        return await handler(request, start)

    return guarded


def out_of_date(start: Begun, form: Form) -> bool:
    """Whether the files are others by now than those that the form was made from."""
    return form.get("was", "") != start.fingerprint


def field_text(form: Form, name: str) -> str:
    """What a person typed; of a text that is too long for any key as much as shows that it is."""
    return form.get(name, "").strip()[:_MOST_LETTERS]


def place_of(text: str, count: int) -> int | None:
    """The place in a list of so many that a form or an address names; None where it has none."""
    if not (text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS):
        return None
    return place if (place := int(text)) < count else None


def places_of(texts: Iterable[str], count: int) -> list[int]:
    """The places in a list of so many that a form has ticked, in order."""
    found = {place_of(one, count) for one in texts}
    return sorted(place for place in found if place is not None)


def said(request: Request, title: str, says: Iterable[str], *, status: int) -> Response:
    """A page that tells why something is not done."""
    return page(request, "said.html", status=status, title=title, says=list(says))


def begin_again(request: Request) -> Response:
    """What a form that is out of date is answered."""
    words = "The files were changed since this page was opened: begin again from them."
    return said(request, "Not changed", [words], status=409)
