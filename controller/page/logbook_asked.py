"""What a person wants to see of the logbook: which entries, of which days."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any, NamedTuple
from urllib.parse import urlencode

from controller.building.civil import CivilTime
from controller.service.telling import entry_words

KINDS = {  # of the form → of the entries
    "rang": ("sounding",),
    "missed": ("missed", "missed-count"),
    "done": ("note",),
}
USUAL_DAYS = 7  # looked at unless said
_MOST_TEXT = 100
_MOST_DIGITS = 19  # of an instant in ns
_LATEST = 1 << 62  # that the order takes

Entry = Mapping[str, Any]  # as the order `logbook` answers it


class Asked(NamedTuple):
    """The filter, as it stands in the form; "" is whatever."""

    kind: str = ""
    zone: str = ""
    text: str = ""
    since: str = ""  # a local date
    until: str = ""  # a local date, itself included

    def query(self, **more: object) -> str:
        """What goes behind "?" in an address."""
        kept = {key: value for key, value in self._asdict().items() if value}
        return urlencode({**kept, **more})

    def fits(self, entry: Entry) -> bool:
        """Whether an entry is one of these."""
        if self.kind and entry["kind"] not in KINDS.get(self.kind, ()):
            return False
        if self.zone and entry["zone"] != self.zone:
            return False
        return self.text.casefold() in entry_words(entry).casefold()


class Span(NamedTuple):
    """The stretch of time that is read."""

    since: str  # LOCAL, as the order takes it
    before: int | None  # utc, ns


def asked_of(query: Mapping[str, str]) -> Asked:
    """What the form says, cut where it is too long."""
    return Asked(*(query.get(key, "").strip()[:_MOST_TEXT] for key in Asked._fields))


def before_of(query: Mapping[str, str]) -> int | None:
    """Where the page before this one left off; None where that is not said."""
    text = query.get("before", "")
    if not (text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS):
        return None
    return min(int(text), _LATEST)


def span_of(asked: Asked, civil: CivilTime, now: int) -> tuple[Span, dict[str, str]]:
    """The stretch of time, and what is wrong with its dates, by field."""
    wrong: dict[str, str] = {}
    dates: dict[str, date | None] = {"since": None, "until": None}
    for key in dates:
        text = getattr(asked, key)
        if not text:
            continue
        try:
            dates[key] = civil.date_at(civil.instant_of(text))
        except ValueError as fault:
            wrong[key] = f"{fault}."
    last = dates["until"]
    first = dates["since"] or (last or civil.date_at(now)) - timedelta(days=USUAL_DAYS)
    before = None
    if last is not None:
        before = civil.instant(datetime.combine(last + timedelta(days=1), time.min))
        if last < first:
            wrong["until"] = "is before the first day; expected that day or a later one."
    return Span(first.isoformat(), before), wrong


def by_day(entries: Iterable[Entry], civil: CivilTime) -> Iterator[tuple[date, list[Entry]]]:
    """Entries, newest first, day by day."""
    day, found = None, list[Entry]()
    for entry in entries:
        its = civil.date_at(entry["at"])
        if its != day:
            if day is not None:
                yield day, found
            day, found = its, []
        found.append(entry)
    if day is not None:
        yield day, found
