"""Commands that move calendars in and out."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from controller.cli.options import Runtime, Yes

calendar = typer.Typer(no_args_is_help=True)

Building = Annotated[
    Path,
    typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them."),
]


class Each(StrEnum):
    """What is one event."""

    sounding = "sounding"
    day = "day"


@calendar.callback()
def _calendar() -> None:
    """Move calendars in and out. As iCalendar files (RFC 5545), for any calendar program."""


@calendar.command("import")
def _import(
    file: Annotated[
        Path, typer.Argument(metavar="FILE.ics", help="What a calendar program exports.")
    ],
    path: Building,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Turn a calendar's events into calendar entries. By the rules in [[import]].

    From today on, 800 days ahead. What would be added, changed, removed and left out is shown and
    asked about. A later import of the same calendar changes only what changed in it; an entry that
    you changed by hand since stays as it is, and your own entries go before all imported ones.
    """
    from controller.cli.calendar_import import import_calendar

    raise typer.Exit(import_calendar(file, path, runtime, yes=yes))


@calendar.command("export")
def _export(
    path: Building,
    from_: Annotated[
        str | None,
        typer.Option("--from", metavar="LOCAL", help="Begin here.", show_default="now"),
    ] = None,
    until: Annotated[
        str | None,
        typer.Option(
            metavar="LOCAL",
            help="End before this.",
            show_default="28 days on; with --each day 400 days on",
        ),
    ] = None,
    each: Annotated[
        Each,
        typer.Option(
            help="One event for each moment at which bells sound, with its zones; or one for each "
            "day, with its plan and its rings."
        ),
    ] = Each.sounding,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write it here.", show_default="standard output"),
    ] = None,
) -> None:
    """Write the coming soundings as a calendar. For any calendar program.

    A later export of the same days has the same UIDs, so a program that reads it again puts the new
    events in the place of the old ones.
    """
    from controller.cli.calendar_export import Asked, export_calendar

    export_calendar(path, Asked(from_, until, each.value), out)
