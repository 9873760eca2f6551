"""`understudy week`: a week drawn."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from controller.building.file import read
from controller.cli.drawn import ORDERS_APART, print_lines, write_sheet
from controller.cli.local import instant_or_now
from controller.pictures.week import week_of
from controller.timetable.days import Timetable


def week(path: Path, of: str | None, svg: Path | None) -> None:
    """Draw the week that holds the local date `of` (today unless said)."""
    building = read(path)
    on: date = building.civil.date_at(instant_or_now(building.civil, of, "--of"))
    found = week_of(building, Timetable(building), on, ORDERS_APART)
    if svg is None:
        from controller.pictures.week_text import week_text

        print_lines(lambda width, ascii_only: week_text(found, width, ascii_only=ascii_only))
        return
    from controller.pictures.week_svg import week_svg

    write_sheet(week_svg(found), svg)
