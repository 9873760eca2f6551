"""Commands that bring the old tape into the file, and turn it into plans and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from controller.cli.options import Runtime, Yes

tape = typer.Typer(no_args_is_help=True)

Building = Annotated[
    Path,
    typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them."),
]


@tape.callback()
def _tape() -> None:
    """Bring the old tape into the file. Or turn it into plans, or plans into a tape."""


@tape.command("read")
def _read(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE.csv", help="What was noted while turning the drum by hand."),
    ],
    path: Building,
    first: Annotated[
        str | None,
        typer.Option(
            metavar="HH:MM",
            help="The first hole noted is the one of this clock time; all others follow from it.",
            show_default=False,
        ),
    ] = None,
    starts: Annotated[
        str | None,
        typer.Option(
            metavar="HH:MM",
            help="Clock time under the fingers at the tape's mark, where --first is not known.",
            show_default="as in the file",
        ),
    ] = None,
    length: Annotated[
        str | None,
        typer.Option(
            metavar="DURATION", help="One turn: 6h, 12h or 24h.", show_default="as in the file"
        ),
    ] = None,
    for_: Annotated[
        str | None,
        typer.Option(
            "--for",
            metavar="DURATION",
            help="How long each hole rings.",
            show_default="as in the file",
        ),
    ] = None,
    turn: Annotated[
        float | None,
        typer.Option(
            metavar="UNITS",
            help="How many units of the column position one turn of the tape has, such as 360.",
            show_default=False,
        ),
    ] = None,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Take a tape's holes from notes. What is doubtful in them is said line by line.

    The first line of FILE.csv names its columns: zones, and one of offset (HH:MM of tape since its
    mark), clock (HH:MM that the clock showed when the hole rang) and position (in any unit, with
    --turn). One line a hole, in the order in which they came by; further turns may follow. A ?
    marks what is uncertain. The tape that is in the file is replaced.
    """
    from controller.cli.tape_reading import Given, read_notes

    given = Given(first, starts, length, for_, turn)
    raise typer.Exit(read_notes(file, path, given, runtime, yes=yes))


@tape.command("fold")
def _fold(
    path: Building,
    length: Annotated[
        str | None,
        typer.Option(
            metavar="DURATION",
            help="One turn: 6h, 12h or 24h.",
            show_default="the shortest that will do",
        ),
    ] = None,
    starts: Annotated[
        str | None,
        typer.Option(
            metavar="HH:MM",
            help="Clock time under the fingers at the tape's mark.",
            show_default="as in the file, else 00:00",
        ),
    ] = None,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Turn the week's plans into a tape. With the quiet rows by which it rings the same.

    Where no tape rings the same it is said ring by ring why none does. Plans stay in the file.
    """
    from controller.cli.tape_folding import fold_week

    raise typer.Exit(fold_week(path, length, starts, runtime, yes=yes))


@tape.command("unfold")
def _unfold(path: Building, yes: Yes = False, runtime: Runtime = None) -> None:
    """Turn the tape into plans and a week. They ring the same; quiet rows stay.

    What quiet rows silence is in no plan, unless the calendar lifts them on a usual date.
    """
    from controller.cli.tape_folding import unfold_tape

    raise typer.Exit(unfold_tape(path, runtime, yes=yes))
