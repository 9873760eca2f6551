"""Calendar files for tests, each line as the RFC writes it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from controller.building.civil import CivilTime
from controller.editing.calendar_in import CalendarFile, read_calendar

SCHOOL_YEAR = (Path(__file__).parent / "data" / "school-year.ics").read_bytes()
TODAY = date(2026, 11, 28)
HALIFAX = CivilTime("America/Halifax")


def event(*lines: str, uid: str = "1@elm.example") -> tuple[str, ...]:
    """The lines of an event."""
    return ("BEGIN:VEVENT", f"UID:{uid}", "DTSTAMP:20260820T120000Z", *lines, "END:VEVENT")


def file_of(*events: tuple[str, ...], head: tuple[str, ...] = ()) -> bytes:
    """A calendar file with these events."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Elm House//EN", *head]
    lines += [line for one in events for line in one]
    return "".join(f"{line}\r\n" for line in (*lines, "END:VCALENDAR")).encode()


def read_of(
    *events: tuple[str, ...],
    head: tuple[str, ...] = (),
    civil: CivilTime = HALIFAX,
    today: date = TODAY,
) -> CalendarFile:
    """What a file with these events says."""
    return read_calendar(file_of(*events, head=head), civil, today)


def spans(calendar: CalendarFile) -> list[str]:
    """Its dates, "2026-12-01" or "2026-12-01…2026-12-03"; what is cancelled is not among them."""
    return [
        str(one.first) if one.first == one.last else f"{one.first}…{one.last}"
        for one in calendar.occurrences
        if not one.cancelled
    ]
