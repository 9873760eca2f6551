"""`understudy year`: a year drawn."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from controller.building.civil import YEARS
from controller.building.file import read
from controller.cli.drawn import ORDERS_APART, print_lines, write_sheet
from controller.cli.local import instant_or_now
from controller.pictures.year import year_of
from controller.timetable.days import Timetable

if TYPE_CHECKING:
    from controller.building.model import Building

_YEAR = re.compile(r"([0-9]{4})(?:-(0[1-9]|1[0-2]))?")


def year(path: Path, of: str | None, svg: Path | None) -> None:
    """Draw twelve months: the calendar year `of`, or from its month on; this year unless said."""
    building = read(path)
    found = year_of(building, Timetable(building), first_date(building, of), ORDERS_APART)
    if svg is None:
        from controller.pictures.year_text import year_text

        print_lines(lambda width, _: year_text(found, width))
        return
    from controller.pictures.year_svg import year_svg

    write_sheet(year_svg(found), svg)


def first_date(building: Building, of: str | None) -> date:
    """The first date of "2026", or of "2026-09". `typer.BadParameter` where it is neither."""
    if of is None:
        today = building.civil.date_at(instant_or_now(building.civil, None, "--of"))
        return date(today.year, 1, 1)
    match = _YEAR.fullmatch(of)
    if match is None:
        raise typer.BadParameter(
            f"{of!r}: expected a year, or its first month, such as 2026 or 2026-09",
            param_hint="--of",
        )
    first = date(int(match[1]), int(match[2] or 1), 1)
    if not YEARS[0] < first.year < YEARS[1]:
        raise typer.BadParameter(
            f"{of!r}: expected a year from {YEARS[0] + 1} to {YEARS[1] - 1}", param_hint="--of"
        )
    return first
