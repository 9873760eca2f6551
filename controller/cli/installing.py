"""The installer's commands: a first file, the wiring sheet, and the bench."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from controller.cli.options import State

installing = typer.Typer()


@installing.command("new")
def _new(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where the files go; made if it is not there.")
    ],
    name: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="What the building is called.", show_default=False),
    ] = None,
    timezone: Annotated[
        str | None,
        typer.Option(metavar="ZONE", help="Its IANA time zone.", show_default="the system's"),
    ] = None,
    zone: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=PIN", help="A bell zone, and its relay. May be repeated."),
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=PIN[,PIN]",
            help="A line of dials, and its relays: two (+ and −) of an alternating line, one of a "
            "single one. May be repeated.",
        ),
    ] = None,
    active: Annotated[
        str | None,
        typer.Option(
            metavar="high|low", help="Level that energises the relays.", show_default="high"
        ),
    ] = None,
    face: Annotated[
        str | None,
        typer.Option(metavar="12h|24h", help="Hours of the dials' faces.", show_default="12h"),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Ask nothing: what is not given is as usual.")
    ] = False,
) -> None:
    """Write a building's first two files, by a few questions.

    10-wiring.toml is the installer's, 20-timetable.toml the keeper's; both are commented, and pass
    `understudy check`. Nothing is overwritten.
    """
    from controller.cli.new import Given, new

    new(folder, Given(name, timezone, zone, line, active, face, yes))


@installing.command("wiring")
def _wiring(
    path: Annotated[
        Path,
        typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them."),
    ],
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Where the sheet goes; made if it is not there.")
    ],
    at: Annotated[
        str | None,
        typer.Option(
            metavar="LOCAL",
            help="The week from this date on is played for what the supply must give.",
            show_default="today",
        ),
    ] = None,
) -> None:
    """Write the wiring sheet: terminal list, fuses, loads and volts, and drawings.

    wiring.html has all of it, to print on A4; terminals.csv is the list for a spreadsheet, and each
    drawing is an SVG file of its own. Files of those names that this command did not write are left
    alone.
    """
    from controller.cli.wiring import wiring

    wiring(path, out, at)


@installing.command("bench")
def _bench(
    path: Annotated[
        Path,
        typer.Argument(metavar="PATH", help="The building's TOML file, or a folder of them."),
    ],
    tests: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[TEST]...",
            help="relays: each once, by its name. lines: +, −, +, − and the interlock. times: "
            "pull-in, drop-out and bounce, through senses. inputs: buttons, switches and supply, "
            "live. endurance: many operations. Unless said, all but endurance.",
            show_default=False,
        ),
    ] = None,
    only: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="This zone or line only. May be repeated."),
    ] = None,
    fake: Annotated[
        bool, typer.Option("--fake", help="On the fake board instead of the pins.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Begin each test without asking.")] = False,
    unattended: Annotated[
        bool,
        typer.Option("--unattended", help="Ask nothing: only what the senses read is judged."),
    ] = False,
    operations: Annotated[
        int,
        typer.Option(metavar="NUMBER", min=1, max=1_000, help="times: operations of each relay."),
    ] = 10,
    endures: Annotated[
        int,
        typer.Option(
            metavar="NUMBER", min=1, max=1_000_000, help="endurance: operations of each circuit."
        ),
    ] = 100,
    rate: Annotated[
        float | None,
        typer.Option(
            metavar="NUMBER",
            min=0.01,
            max=300,
            help="endurance: operations a minute; else as fast as limits allow.",
        ),
    ] = None,
    watch: Annotated[
        str, typer.Option(metavar="DURATION", help="inputs: how long they are watched.")
    ] = "2m",
    by: Annotated[
        str,
        typer.Option(metavar="NAME", help="Who does it; else the user's name.", show_default=False),
    ] = "",
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Where the record goes; else the folder bench in the state folder.",
            show_default=False,
        ),
    ] = None,
    state: State = None,
    runtime: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Where the processes meet.")
    ] = None,
) -> None:
    """Try relays, lines and inputs before the building is connected.

    Each test says what will move and what to disconnect, and waits for a yes. It cannot run beside
    a daemon. All relays are open afterwards, however it ends; a line that was moved is unread. The
    record is kept as JSON, and as HTML and PDF to print and sign.
    """
    from controller.cli.bench import Asked, bench

    asked = Asked(
        tests or (), only or (), operations, endures, rate, watch, by, fake, unattended, yes
    )
    raise typer.Exit(bench(path, asked, state, runtime, out))
