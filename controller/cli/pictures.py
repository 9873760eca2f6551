"""Commands that draw: a week, a year."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

pictures = typer.Typer()

Building = Annotated[
    Path,
    typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them."),
]
Svg = Annotated[
    Path | None,
    typer.Option(
        "--svg",
        metavar="FILE",
        help="Draw it on an A4 sheet instead, as SVG; - for the standard output.",
        show_default=False,
    ),
]


@pictures.command("week")
def _week(
    path: Building,
    of: Annotated[
        str | None, typer.Option("--of", metavar="DATE", help="A date of it.", show_default="today")
    ] = None,
    svg: Svg = None,
) -> None:
    """Draw a week: when each zone rings, and what is silenced.

    The week from Monday to Sunday (ISO 8601) that holds the date.
    """
    from controller.cli.week import week

    week(path, of, svg)


@pictures.command("year")
def _year(
    path: Building,
    of: Annotated[
        str | None,
        typer.Option(
            "--of",
            metavar="YEAR",
            help="The year, or its first month, such as 2026-09 for a school year.",
            show_default="this year",
        ),
    ] = None,
    svg: Svg = None,
) -> None:
    """Draw a year: each day by its plan, and what departs from the week."""
    from controller.cli.year import year

    year(path, of, svg)
