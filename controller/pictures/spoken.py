"""How times, lengths, plans and counts are said to people, on terminals, paper and pages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from controller.building.civil import DAY_SECONDS, SECOND, CivilTime
from controller.building.durations import duration_text

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.timetable.contact import Closing
    from controller.timetable.days import Day

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


# ── time ─────────────────────────────────────────────────────────────────────────────────────────


def day_text(day: date) -> str:
    """ "Wed 2026-11-25"."""
    return f"{WEEKDAYS[day.weekday()]} {day.isoformat()}"


def moment_text(civil: CivilTime, utc: int) -> str:
    """ "Wed 2026-11-25 08:30:00", with milliseconds where it is not a whole second."""
    local = civil.aware(utc)
    return f"{day_text(local.date())} {clock_text(civil, utc)}"


def clock_text(civil: CivilTime, utc: int) -> str:
    """ "08:30:00", with milliseconds where it is not a whole second."""
    whole = utc % SECOND < 1_000_000
    local = civil.aware(utc)
    return local.time().isoformat("seconds" if whole else "milliseconds")


def in_how_long(nanoseconds: int) -> str:
    """ "in 45 s", "in 12 min", "in 2 h 05 min", "in 3 d 4 h"."""
    seconds = nanoseconds // SECOND
    minutes, hours, days = seconds // 60, seconds // 3600, seconds // DAY_SECONDS
    if nanoseconds <= 0:
        return "now"
    if minutes < 1:
        return f"in {seconds} s"
    if hours < 1:
        return f"in {minutes} min"
    if days < 1:
        return f"in {hours} h {minutes % 60:02d} min"
    return f"in {days} d {hours % 24} h"


def how_long_ago(nanoseconds: int) -> str:
    """ "45 s ago", "12 min ago", "5 h ago", "3 days ago"."""
    seconds = nanoseconds // SECOND
    if seconds < 0:
        return "at a time that is still to come by this clock"
    if seconds < 120:
        return f"{seconds} s ago"
    if seconds < 2 * 3600:
        return f"{seconds // 60} min ago"
    if seconds < 2 * DAY_SECONDS:
        return f"{seconds // 3600} h ago"
    return f"{seconds // DAY_SECONDS} days ago"


def how_rung(closings: Sequence[Closing]) -> str:
    """ "5s" for one closing, "3 strokes" for more."""
    if len(closings) == 1:
        return duration_text(closings[0][1] - closings[0][0])
    return f"{len(closings)} strokes"


def dates_text(dates: Sequence[date]) -> str:
    """ "Wed 2026-11-25", or "212 days, first Wed 2026-11-25"."""
    first = day_text(dates[0])
    return first if len(dates) == 1 else f"{len(dates)} days, first {first}"


# ── plans ────────────────────────────────────────────────────────────────────────────────────────


def plan_text(building: Building, day: Day) -> str:
    """A date's plan, and why it is not the usual."""
    from controller.timetable.days import plan_label  # late: most commands say no plan

    why = {"order": "order", "calendar": "calendar", "holiday": "public holiday"}.get(day.source)
    label = plan_label(building, day)
    if why is None or not day.exists:
        return label
    return f"{label} ({why}: {day.says})" if day.says else f"{label} ({why})"


def counted(number: int, thing: str) -> str:
    """ "1 sounding", "2 soundings"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def counts_text(counts: Mapping[str, int], order: Iterable[str]) -> str:
    """ "north 12, south 9", in the file's order; what has none is left out."""
    return ", ".join(f"{name} {counts[name]}" for name in order if counts.get(name))
