"""The commands. What a command needs is imported when it is given, and not before."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from controller.cli.calendar import calendar
from controller.cli.guard import GuardedGroup
from controller.cli.installing import installing
from controller.cli.keeping import keeping, seeing
from controller.cli.lines import lines
from controller.cli.orders import orders
from controller.cli.paging import paging
from controller.cli.pictures import pictures
from controller.cli.tape import tape

app = typer.Typer(
    cls=GuardedGroup,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Stands in for the failed tape drum and the master of an old institutional clock: bells "
    "by zone, slave dials by the minute.",
    epilog="PATH is a building's TOML file, or a folder of them. LOCAL is a date or a date and "
    "time of the building's own clock, such as 2026-11-25 or 2026-11-25T08:30. A DURATION is a "
    "number and ms, s, m, h or d, such as 90s.",
)

app.add_typer(seeing)
app.add_typer(orders)
app.add_typer(lines, name="lines")
app.add_typer(keeping)
app.add_typer(installing)
app.add_typer(paging)
app.add_typer(pictures)
app.add_typer(calendar, name="calendar")
app.add_typer(tape, name="tape")

Building = Annotated[
    Path,
    typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them."),
]
At = Annotated[
    str | None,
    typer.Option(
        metavar="LOCAL", help="As if it were this local date or time.", show_default="now"
    ),
]


class Only(StrEnum):
    """Which records a rehearsal writes."""

    rings = "rings"
    impulses = "impulses"


def _tell_version(wanted: bool) -> None:
    if wanted:
        from controller.service.picture import program_version

        typer.echo(program_version())
        raise typer.Exit


@app.callback()
def _understudy(
    version: Annotated[
        bool,
        typer.Option("--version", is_eager=True, callback=_tell_version, help="Say which it is."),
    ] = False,
) -> None:
    pass


@app.command("check")
def _check(path: Building, at: At = None) -> None:
    """Say what a building's file comes to, or every fault in it.

    Lists what the coming 400 days would bring that nobody may expect: rings that wait for the
    supply, are cut short, are silenced or are moved by a clock change.
    """
    from controller.cli.check import check

    check(path, at)


@app.command("next")
def _next(
    path: Building,
    at: At = None,
    number: Annotated[
        int,
        typer.Option("-n", "--number", min=1, max=1000, help="How many; one instant is one."),
    ] = 10,
) -> None:
    """List the coming soundings.

    What quiet rows silence before the last of them is counted below.
    """
    from controller.cli.next import coming

    coming(path, at, number)


@app.command("rehearse")
def _rehearse(
    path: Building,
    from_: Annotated[
        str, typer.Option("--from", metavar="LOCAL", help="Begin here; all is right then.")
    ],
    until: Annotated[str, typer.Option(metavar="LOCAL", help="End before this.")],
    dials: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LINE=HH:MM[:SS][,+|-]",
            help="What a line's dials show at the beginning, and which polarity came last "
            "(- unless said). May be given for each line.",
        ),
    ] = None,
    cut: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LOCAL+DURATION", help="All power goes then, for so long. May be repeated."
        ),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LOCAL±DURATION",
            help="The system's clock is stepped then, forwards (+) or backwards (-). "
            "May be repeated.",
        ),
    ] = None,
    boot: Annotated[
        str,
        typer.Option(metavar="DURATION", help="From power's return to the daemon's start."),
    ] = "20s",
    only: Annotated[Only | None, typer.Option(help="Leave the records of the others out.")] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
    svg: Annotated[
        Path | None,
        typer.Option("--svg", metavar="FILE", help="Draw the dials against true time, as SVG."),
    ] = None,
) -> None:
    """Play a stretch of time through, faster than time.

    Runs the daemon's own engine, and shows day by day what would ring, step and be missed, and
    how the dials would end. Nothing is connected, and nothing is stored.
    """
    from controller.cli.rehearse import Asked, rehearse

    asked = Asked(
        from_,
        until,
        tuple(dials or ()),
        tuple(cut or ()),
        tuple(step or ()),
        boot,
        None if only is None else only.value,
    )
    rehearse(path, asked, json, svg)


@app.command("run")
def _run(
    path: Building,
    fake: Annotated[
        bool, typer.Option("--fake", help="On the fake board instead of the pins.")
    ] = False,
    as_if_right: Annotated[
        bool,
        typer.Option(
            "--as-if-right", help="At a first start, take the clock and all dials to be right."
        ),
    ] = False,
    state: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Where the store lives; with --fake a temporary folder of the building's own.",
        ),
    ] = None,
    runtime: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Where the processes meet.")
    ] = None,
    group: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Whose members may give orders, beside the daemon's own user and root.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Run the daemon: ring the bells and step the dials."""
    from controller.cli.run import run

    folders = {"state": state, "runtime": runtime}
    raise typer.Exit(run(path, fake=fake, as_if_right=as_if_right, group=group, **folders))


@app.command("fake-board")
def _fake_board(
    path: Building,
    action: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[ACTION]",
            help="start; press INPUT; let-go INPUT; supply on|off; fault RELAY "
            "stuck|welded|bouncing; fault RELAY slow DURATION; mend RELAY; swap LINE; "
            "dials LINE=HH:MM[,+|-]; log; end.",
        ),
    ] = None,
    runtime: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Where the processes meet.")
    ] = None,
) -> None:
    """Look at the fake board, press its buttons, give it faults.

    The fake board stands in for the pins and all that hangs on them. Without an ACTION it is
    shown; names are those that it shows.
    """
    from controller.cli.fake_board import fake_board

    fake_board(path, action or (), runtime)


@app.command("release")
def _release(
    path: Annotated[
        Path | None,
        typer.Argument(metavar="[PATH]", help="Read where the hand left nothing written down."),
    ] = None,
    runtime: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Where the processes meet.")
    ] = None,
) -> None:
    """Open all relays, whatever became of the daemon."""
    # For the list of commands and for completion: controller.cli.entry gives the command itself.
    from controller.circuits.release import main

    given = [] if path is None else ["--", str(path)]
    raise typer.Exit(main([*([] if runtime is None else [f"--runtime={runtime}"]), *given]))
