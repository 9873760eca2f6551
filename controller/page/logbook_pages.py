"""`/logbook`: what rang, what was missed and why, who did what. The newest first."""

from __future__ import annotations

import io
import time
from collections.abc import AsyncIterator
from typing import Any

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from controller.building.civil import CivilTime
from controller.page.asking import ask
from controller.page.logbook_asked import Entry, Span, asked_of, before_of, by_day, span_of
from controller.page.rendering import building_now, page
from controller.page.sessions import needs
from controller.service.logbook_table import write_csv
from controller.service.order_client import NoDaemon
from controller.service.orders import MOST_LOGBOOK_ENTRIES
from controller.service.telling import entry_words
from controller.timetable.differences import date_words

MOST_SHOWN = 200  # entries on one page
MOST_LOOKED_AT = 5_000  # for one page: with a narrow filter a page may have few
MOST_CSV = 50_000


@needs("look")
async def logbook(request: Request) -> Response:
    """A page of the logbook."""
    building = await building_now(request)
    asked, civil = asked_of(request.query_params), building.civil
    span, wrong = span_of(asked, civil, time.time_ns())
    told: dict[str, Any] = {
        "asked": asked,
        "zones": [("", "all"), *((zone, zone) for zone in building.zones)],
        "wrong": {key: [says] for key, says in wrong.items()},
    }
    told |= {"days": [], "earlier": None, "away": "", "first": span.since}
    if wrong:
        return page(request, "logbook.html", status=422, **told)
    before = before_of(request.query_params)
    if before is not None:
        span = span._replace(before=min(before, before if span.before is None else span.before))
    shown: list[Entry] = []
    looked_at, oldest = 0, None
    try:
        async for entry in _newest_first(request, span):
            full = len(shown) >= MOST_SHOWN or looked_at >= MOST_LOOKED_AT
            if full and entry["at"] != oldest:  # what is of one instant is never parted
                told["earlier"] = asked.query(before=oldest)
                break
            looked_at, oldest = looked_at + 1, entry["at"]
            if asked.fits(entry):
                shown.append(entry)
    except NoDaemon as gone:
        return page(request, "logbook.html", status=503, **{**told, "away": str(gone)})
    told["days"] = [
        (f"{date_words(day)} {day.year}", [_row(civil, entry) for entry in entries])
        for day, entries in by_day(shown, civil)
    ]
    return page(request, "logbook.html", **told)


@needs("look")
async def table(request: Request) -> Response:
    """The same entries for other programs, the oldest first."""
    building = await building_now(request)
    asked, civil = asked_of(request.query_params), building.civil
    span, wrong = span_of(asked, civil, time.time_ns())
    if wrong:
        lines = "".join(f"{key}: {says}\n" for key, says in wrong.items())
        return PlainTextResponse(lines, status_code=422)
    found: list[Entry] = []
    async for entry in _newest_first(request, span):
        if asked.fits(entry):
            found.append(entry)
        if len(found) == MOST_CSV:
            break
    text = io.StringIO()
    write_csv(text, civil, reversed(found))
    name = f"logbook-{span.since}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(text.getvalue(), media_type="text/csv; charset=utf-8", headers=headers)


async def _newest_first(request: Request, span: Span) -> AsyncIterator[Entry]:
    """The entries of a stretch of time, read on into the past as they are asked for."""
    before = span.before
    while True:
        keys: dict[str, Any] = {"since": span.since, "most": MOST_LOGBOOK_ENTRIES}
        if before is not None:
            keys["before"] = before
        answer = await ask(request, "logbook", **keys)
        entries = answer["entries"]
        for entry in reversed(entries):
            yield entry
        if not entries or (before is not None and entries[0]["at"] >= before):
            return
        before = entries[0]["at"]


def _row(civil: CivilTime, entry: Entry) -> tuple[str, str, str]:
    """When, which kind in a word, and what."""
    local = civil.aware(entry["at"])
    kind = {"sounding": "rang", "note": "done"}.get(entry["kind"], "missed")
    return f"{local:%H:%M:%S}", kind, entry_words(entry)


ROUTES = [Route("/logbook", logbook), Route("/logbook.csv", table)]
