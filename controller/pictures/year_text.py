"""A year in a terminal: a line for each week (ISO 8601), and beside it what departs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import groupby
from textwrap import wrap

from rich.text import Text

from controller.pictures.year import Year, YearDay

NARROWEST = 40
_CELL = 4  # letters of a day
_LEFT = 11  # "48  23 Nov "
_BESIDE = _LEFT + 7 * _CELL + 1  # where the words begin
_LEAST_ROOM = 22  # for them; where there is less they stand below
_DEPARTS, _ONWARD, _BACK = "*", ">", "<"


def year_text(year: Year, width: int) -> Iterator[Text]:
    """The lines, none wider than `width` (40 at least)."""
    width = max(width, NARROWEST)
    for words in (year.building, f"{year.title}, {year.timezone}"):
        yield from (Text(line, "bold") for line in wrap(words, width))
    yield Text()
    yield Text("week  from " + "".join(f"{day:<{_CELL}}" for day in "MTWTFSS").rstrip(), "dim")
    for _, days in groupby(year.days, lambda day: day.date.isocalendar()[:2]):
        yield from _week(list(days), width)
    yield Text()
    yield from _key(year, width)
    for remark in year.remarks:
        yield from (Text(line) for line in wrap(remark, width))


def _week(week: Sequence[YearDay], width: int) -> Iterator[Text]:
    first = week[0].date
    monday = first - timedelta(days=first.weekday())
    line = Text()
    line.append(f" {first.isocalendar().week:2d} ", "dim")
    line.append(f"{monday.day:2d} {monday:%b} ")
    line.append(" " * _CELL * first.weekday())
    for day in week:
        line.append(*_cell(day))
    words = "; ".join(_said(week))
    line.append(" " * (_BESIDE - len(line)))
    room = width - _BESIDE
    if room >= _LEAST_ROOM or not words:
        indent = _BESIDE
    else:
        yield _bare(line)
        indent, line = 4, Text(" " * 4)
    if not words:
        yield _bare(line)
        return
    for part in wrap(words, width - indent, break_on_hyphens=False):
        line.append(part, "yellow")
        yield _bare(line)
        line = Text(" " * indent)


def _bare(line: Text) -> Text:
    line.rstrip()
    return line


def _cell(day: YearDay) -> tuple[str, str]:
    """A day's letter, and whether it departs from the usual or has a clock change."""
    mark = _DEPARTS if day.departs else ""
    for change in day.changes:
        if day.exists:
            mark = _ONWARD if change.after > change.before else _BACK
    style = "bold yellow" if day.departs or not day.exists else ""
    letter = day.sign.letter if not mark else day.sign.letter[: _CELL - 1]
    return f"{letter}{mark}"[:_CELL].ljust(_CELL), "bold red" if day.changes else style


def _said(week: Sequence[YearDay]) -> Iterator[str]:
    """ "Thu 17 Concert in the evening", "Sat 19–20 Winter break": days that share a reason."""
    for why, run in groupby(week, _reason):
        days = list(run)
        if why:
            first, last = days[0].date, days[-1].date
            when = f"{first:%a} {first.day}"
            yield f"{when}–{last.day} {why}" if last > first else f"{when} {why}"


def _reason(day: YearDay) -> str:
    if not day.exists:
        return day.plan
    words = [day.why] if day.departs else []
    return ", ".join([*words, *(change.words for change in day.changes)])


def _key(year: Year, width: int) -> Iterator[Text]:
    parts = [f"{sign.letter} {plan} ({dates})" for plan, sign, dates in year.plans]
    if any(day.departs for day in year.days):
        parts.append(f"{_DEPARTS} not the usual day")
    if any(day.changes for day in year.days):
        parts.append(f"{_ONWARD} clocks go on")
        parts.append(f"{_BACK} clocks go back")
    words = ", ".join(part.replace(" ", "\N{NO-BREAK SPACE}") for part in parts)
    for line in wrap(words, width, break_on_hyphens=False):
        yield Text(line.replace("\N{NO-BREAK SPACE}", " "), "dim")
