"""How times, lengths, plans and columns are said to people, in 80 plain columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from controller.building.civil import DAY_SECONDS, SECOND, CivilTime
from controller.building.durations import duration_text

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.timetable.contact import Closing
    from controller.timetable.days import Day

WIDTH = 80
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_GAP = 2  # between columns


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


# ── layout ───────────────────────────────────────────────────────────────────────────────────────


def counted(number: int, thing: str) -> str:
    """ "1 sounding", "2 soundings"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def counts_text(counts: Mapping[str, int], order: Iterable[str]) -> str:
    """ "north 12, south 9", in the file's order; what has none is left out."""
    return ", ".join(f"{name} {counts[name]}" for name in order if counts.get(name))


def columns(rows: Sequence[Sequence[str]], indent: int = 0) -> Iterator[str]:
    """Rows in columns; the widest columns are wrapped until all fit in 80."""
    if not rows:
        return
    kept = [index for index in range(len(rows[0])) if any(row[index] for row in rows)]
    widths = [max(len(row[index]) for row in rows) for index in kept]
    room = WIDTH - indent - _GAP * (len(kept) - 1)
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    for row in rows:
        cells = [
            textwrap.wrap(row[index], width, break_on_hyphens=False) or [""]
            for index, width in zip(kept, widths, strict=True)
        ]
        for number in range(max(map(len, cells))):
            line = (" " * _GAP).join(
                (cell[number] if number < len(cell) else "").ljust(width)
                for cell, width in zip(cells, widths, strict=True)
            )
            yield (" " * indent + line).rstrip()


def paragraph(text: str, mark: str = "  · ") -> str:
    """A sentence or two, wrapped to 80 columns under its mark."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_on_hyphens=False,
    )
