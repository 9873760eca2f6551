"""A calendar file (iCalendar, RFC 5545) read: which dates its events have in this building.

All-day events have the dates from DTSTART up to DTEND, which is not one of them; without DTEND and
DURATION one date (§3.6.1). Events with times of day touch every date of the building's own clock
from their start until just before their end. A time without a zone is the building's local time
(§3.3.5, form 1), and so is one whose zone nobody knows; X-WR-TIMEZONE goes before that.
Recurrences, exceptions and moved instances are worked out by recurring-ical-events.

What is read reaches from `LOOK_BACK_DAYS` before today, so that a stretch under way keeps its
beginning, to `LOOK_AHEAD_DAYS` after it. Whatever the bytes are, `CalendarRefused` says in words
what is wrong with a file as a whole; a single event that cannot be read is named and left out.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Any, NamedTuple, cast

import x_wr_timezone  # type: ignore[import-untyped]
from icalendar import Calendar, Event
from icalendar.parser import unescape_backslash
from icalendar.prop import vDDDTypes
from recurring_ical_events import EventAdapter, Series  # type: ignore[import-untyped]

from controller.building.civil import utc_ns
from controller.building.values import MOST_TEXT

if TYPE_CHECKING:
    from controller.building.civil import CivilTime

LOOK_AHEAD_DAYS = 800
LOOK_BACK_DAYS = 400
MOST_BYTES = 4 << 20
MOST_EVENTS = 5_000
MOST_OCCURRENCES = 20_000
_FIRST, _LAST = date(1970, 1, 1), date(2199, 12, 31)  # as in the building's file
_MOST_UID = 120  # letters of a UID that are kept as they are
# Properties that say when an event is: one that cannot be read leaves the event out.
_WHEN = ("DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID")
_ONCE = ("DTSTART", "DTEND", "DURATION", "RECURRENCE-ID")
_TOO_OFTEN = {"SECONDLY": "second", "MINUTELY": "minute", "HOURLY": "hour"}
_MOST_IN_PARTS = {
    "BYMONTH": 12,
    "BYMONTHDAY": 31,
    "BYYEARDAY": 366,
    "BYWEEKNO": 53,
    "BYSETPOS": 366,
}
_DAYS_IN = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_BEGINS = re.compile(rb"^BEGIN:VCALENDAR[ \t]*\r?$", re.IGNORECASE | re.MULTILINE)
_ENDS = re.compile(rb"END:VCALENDAR\s*\Z", re.IGNORECASE)
_BLANK = re.compile(r"[\s\x00-\x1f\x7f]+")


class CalendarRefused(Exception):
    """A calendar file that cannot be used. Says why, and what to do."""


class Occurrence(NamedTuple):
    """One event on its dates: one of a series, where it recurs."""

    uid: str
    first: date
    last: date  # itself included
    timed: bool  # it has times of day, and is not all-day
    summary: str  # on one line
    categories: tuple[str, ...]
    cancelled: bool


class Unread(NamedTuple):
    """An event that cannot be read."""

    uid: str
    summary: str
    why: str


class CalendarFile(NamedTuple):
    """What a calendar file says."""

    name: str  # by which it is known again; "" where it has none
    events: int
    others: int  # to-dos, journals and the like, which are no events
    occurrences: tuple[Occurrence, ...]  # by first date
    uids: frozenset[str]  # of all events, those without a date in what is looked at among them
    unread: tuple[Unread, ...]


def read_calendar(content: bytes, civil: CivilTime, today: date) -> CalendarFile:
    """What the bytes of a calendar file say of the dates about `today`.

    Raises `CalendarRefused`.
    """
    calendars = _calendars(content)
    events = [event for calendar in calendars for event in _events(calendar)]
    if len(events) > MOST_EVENTS:
        raise CalendarRefused(
            f"has {len(events):,} events; expected at most {MOST_EVENTS:,}. "
            "Give only the calendar that has the school's year in it."
        )
    series: dict[str, list[Event]] = {}
    for event in events:
        series.setdefault(_uid(event), []).append(event)
    found: list[Occurrence] = []
    unread: list[Unread] = []
    for uid, of_series in series.items():
        try:
            for occurrence in _occurrences(uid, of_series, civil, today):
                found.append(occurrence)
                if len(found) > MOST_OCCURRENCES:
                    raise CalendarRefused(
                        f"has more than {MOST_OCCURRENCES:,} dates of events within "
                        f"{LOOK_AHEAD_DAYS} days; give a smaller calendar."
                    )
        except _CannotBeRead as fault:
            unread.append(Unread(uid, _one_line(_first(of_series[0], "SUMMARY")), str(fault)))
    return CalendarFile(
        _name(calendars),
        len(events),
        sum(
            component.name in ("VTODO", "VJOURNAL", "VFREEBUSY")
            for calendar in calendars
            for component in calendar.subcomponents
        ),
        tuple(sorted(found)),
        frozenset(series),
        tuple(unread),
    )


# ── the file ─────────────────────────────────────────────────────────────────────────────────────


def _calendars(content: bytes) -> list[Calendar]:
    """The calendars of a stream (§3.4), nearly always one."""
    if len(content) > MOST_BYTES:
        raise CalendarRefused(f"is too large; expected at most {MOST_BYTES >> 20} MiB.")
    begun = len(_BEGINS.findall(content.removeprefix(b"\xef\xbb\xbf")))
    if not begun:
        raise CalendarRefused(
            "is no calendar file: no line of it is BEGIN:VCALENDAR. "
            "Expected what a calendar program exports as iCalendar, mostly named .ics."
        )
    if _ENDS.search(content) is None:
        raise CalendarRefused(
            "is cut off: its last line is not END:VCALENDAR. Export or download it again."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of a zone's name that is guessed
            parsed: Any = Calendar.from_ical(content, multiple=True)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, RecursionError) as error:
        # The library lets its own stumbles over a malformed line through beside ValueError.
        raise CalendarRefused(f"is no calendar that can be read: {_one_line(error)}.") from None
    calendars = [one for one in parsed if isinstance(one, Calendar)]
    if len(calendars) != begun:
        raise CalendarRefused(
            "is damaged: what begins in it does not end where it should. "
            "Export or download it again."
        )
    return calendars


def _events(calendar: Calendar) -> Iterator[Event]:
    """Its events, with X-WR-TIMEZONE where the file has it; what the library cannot apply is not.

    A calendar whose METHOD is CANCEL takes its events back (RFC 5546 §3.2.5).
    """
    events = calendar.walk("VEVENT")
    errors = [event.errors for event in events]
    with suppress(Exception):  # an unknown zone, a broken value: then times are the building's own
        events = x_wr_timezone.to_standard(calendar).walk("VEVENT")
    for event, of_event in zip(cast(list[Event], events), errors, strict=True):
        event.errors = of_event  # which a copy is without
        if str(calendar.get("METHOD", "")).upper() == "CANCEL":
            event["STATUS"] = "CANCELLED"
        yield event


def _name(calendars: Iterable[Calendar]) -> str:
    """RFC 7986 §5.1, and what came before it. The library unescapes neither by itself."""
    names = (
        _one_line(unescape_backslash(str(_first(calendar, key))))
        for calendar in calendars
        for key in ("NAME", "X-WR-CALNAME")
    )
    return next((name for name in names if name), "")


# ── one series of events ─────────────────────────────────────────────────────────────────────────


class _CannotBeRead(Exception):
    """Why one event cannot be read, in words."""


def _occurrences(
    uid: str, events: list[Event], civil: CivilTime, today: date
) -> Iterator[Occurrence]:
    """The dates of one event, or of one series with its moved and cancelled instances."""
    for event in events:
        _see_that_it_can_be_read(event)
    _see_that_it_is_one(events)
    begin, end = today - timedelta(LOOK_BACK_DAYS), today + timedelta(LOOK_AHEAD_DAYS)
    try:
        series = Series([EventAdapter(event) for event in events])
        # A day more at either end: a date here may be another where the event is.
        for one in series.between(begin - timedelta(1), end + timedelta(2)):
            component = one.as_component(keep_recurrence_attributes=False)
            first, last = _dates(one.start, one.end, civil)
            if last >= begin and first <= end:
                yield Occurrence(
                    uid,
                    first,
                    min(last, end),
                    isinstance(one.start, datetime),
                    _one_line(_first(component, "SUMMARY")),
                    tuple(_categories(component)),
                    str(_first(component, "STATUS")).strip().upper() == "CANCELLED",
                )
    except Exception as error:  # whatever the library stumbles over in one event
        raise _CannotBeRead(f"its dates make no sense ({_one_line(error)})") from None


def _see_that_it_can_be_read(event: Event) -> None:
    """Raise `_CannotBeRead` for what would be read as something else, or without end."""
    for name, why in event.errors:
        if name is None or name in _WHEN:
            raise _CannotBeRead(f"{name or 'a line of it'} cannot be read ({_one_line(why)})")
    if "DTSTART" not in event:
        raise _CannotBeRead("it has no DTSTART, so no date")
    for name in _ONCE:
        if isinstance(event.get(name), list):
            raise _CannotBeRead(f"it has {name} more than once")
    if not _FIRST <= _date_of(_first(event, "DTSTART")) <= _LAST:
        raise _CannotBeRead(f"it begins before {_FIRST.year} or after {_LAST.year}")
    rules: Any = event.get("RRULE", [])
    for rule in rules if isinstance(rules, list) else [rules]:
        _see_that_it_recurs(rule)


def _see_that_it_recurs(rule: Mapping[str, Any]) -> None:
    """Raise `_CannotBeRead` where a rule has what RFC 5545 §3.3.10 does not allow, recurs more
    often than any plan, or never: a search for its next date would be long, or without end.
    """
    frequency = "".join(rule.get("FREQ", []))
    if not frequency:
        raise _CannotBeRead("its RRULE has no FREQ")
    if frequency in _TOO_OFTEN:
        raise _CannotBeRead(f"it recurs by the {_TOO_OFTEN[frequency]}, which no plan does")
    if any(interval < 1 for interval in rule.get("INTERVAL", [])):
        raise _CannotBeRead("its RRULE has an INTERVAL below 1")
    for part, most in _MOST_IN_PARTS.items():
        for number in rule.get(part, []):
            if not 1 <= abs(number) <= most:
                raise _CannotBeRead(f"its RRULE has {part}={number}")
    months, days = rule.get("BYMONTH", []), rule.get("BYMONTHDAY", [])
    if months and days and all(abs(day) > _DAYS_IN[month - 1] for month in months for day in days):
        raise _CannotBeRead("its RRULE has no date")


def _see_that_it_is_one(events: list[Event]) -> None:
    """Raise `_CannotBeRead` where one UID stands for several events: none may be lost unseen."""
    masters = [event for event in events if "RECURRENCE-ID" not in event]
    newest = max((event.get("SEQUENCE", 0) for event in masters), default=0)
    told = {
        tuple(event.content_line(key, event[key]) for key in (*_WHEN, "SUMMARY") if key in event)
        for event in masters
        if event.get("SEQUENCE", 0) == newest
    }
    if len(told) > 1:
        raise _CannotBeRead(f"{len(told)} events have this UID, and each needs one of its own")


def _dates(start: date, end: date, civil: CivilTime) -> tuple[date, date]:
    """First and last date of what begins at `start` and has ended at `end`."""
    if not isinstance(start, datetime):
        return start, max(start, _date_of(end) - timedelta(1))
    last = end - timedelta(microseconds=1) if isinstance(end, datetime) and end > start else start
    return _local_date(start, civil), _local_date(last, civil)


def _local_date(at: date, civil: CivilTime) -> date:
    """The building's date at an instant; a time without a zone is the building's own."""
    if isinstance(at, datetime) and at.tzinfo is not None:
        return civil.date_at(utc_ns(at))
    return _date_of(at)


def _date_of(at: date) -> date:
    return at.date() if isinstance(at, datetime) else at


# ── texts ────────────────────────────────────────────────────────────────────────────────────────


def _uid(event: Event) -> str:
    """By which an event is known again. The RFC requires one (§3.8.4.7), and not all have it."""
    uid = _one_line(_first(event, "UID"))
    if not uid:
        what = "\n".join(str(_first(event, key)) for key in ("SUMMARY", "DTSTART"))
        return f"none-{sha256(what.encode()).hexdigest()[:20]}"
    if len(uid) > _MOST_UID:
        return f"{uid[:40]}-{sha256(uid.encode()).hexdigest()[:20]}"
    return uid


def _categories(event: Event) -> Iterator[str]:
    found: Any = event.get("CATEGORIES", [])
    for listed in found if isinstance(found, list) else [found]:
        for category in getattr(listed, "cats", []):
            if word := _one_line(category):
                yield word


def _first(component: Any, key: str) -> Any:
    """A property's value; of several the first, and "" where there is none."""
    value = component.get(key, "")
    if isinstance(value, list):
        value = value[0] if value else ""
    return value.dt if isinstance(value, vDDDTypes) else value


def _one_line(value: object) -> str:
    """Text as the building's file takes it."""
    text = _BLANK.sub(" ", str(value)).strip()
    return text if len(text) <= MOST_TEXT else text[: MOST_TEXT - 1] + "…"
