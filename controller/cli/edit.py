"""`understudy edit`: the keeper's tables changed, for those who do not like editors."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from controller.cli.completing import plans
from controller.cli.described import giving
from controller.cli.options import Runtime, Yes

edit = typer.Typer()


class CalendarAction(StrEnum):
    """What is done with the calendar."""

    list = "list"
    add = "add"
    remove = "remove"


Building = Annotated[
    Path,
    typer.Argument(
        metavar="PATH", help="The building's TOML file, or a folder of them.", show_default=False
    ),
]
Says = Annotated[
    str | None, typer.Option("--says", metavar="TEXT", help="What it is for.", show_default=False)
]


def _times(name: str, form: str, words: str) -> typer.models.OptionInfo:
    found: typer.models.OptionInfo = typer.Option(
        name, metavar=form, help=f"{words} May be repeated.", show_default=False
    )
    return found


@edit.callback()
def _edit() -> None:
    """Change the keeper's file. It is checked, shown and asked about first.

    Comments, order and layout stay. Where a daemon runs the building it writes the file and takes
    it up; else the file is written here. The version before it is kept. The installer's tables are
    changed only in an editor.
    """


@edit.command("plan")
def _plan(
    path: Building,
    name: Annotated[str, typer.Argument(metavar="NAME", help="Which plan.", autocompletion=plans)],
    add: Annotated[
        list[str] | None, _times("--add", "HH:MM", "A new ring, with --zones and its length.")
    ] = None,
    remove: Annotated[list[str] | None, _times("--remove", "HH:MM", "A ring goes.")] = None,
    move: Annotated[
        list[str] | None, _times("--move", "HH:MM=HH:MM", "A ring gets another time.")
    ] = None,
    zones: Annotated[
        str | None,
        typer.Option(
            metavar="ZONE,ZONE",
            help="Where --add rings, `all` for every zone. Without it, --remove and --move are for "
            "these zones alone.",
            show_default=False,
        ),
    ] = None,
    for_: Annotated[
        str | None,
        typer.Option("--for", metavar="DURATION", help="How long it rings.", show_default=False),
    ] = None,
    strokes: Annotated[
        str | None,
        typer.Option(metavar="SECONDS,…", help="On, off, on: such as 1,0.5,1.", show_default=False),
    ] = None,
    says: Says = None,
    new: Annotated[bool, typer.Option("--new", help="Make the plan.")] = False,
    copy_of: Annotated[
        str | None,
        typer.Option(metavar="PLAN", help="Make the plan, as this one is.", show_default=False),
    ] = None,
    delete: Annotated[bool, typer.Option("--delete", help="The plan goes.")] = False,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Change a day's plan. Or show it, where no change is given."""
    from controller.cli.edit_plan import Asked, edit_plan

    rings = (tuple(add or ()), tuple(remove or ()), tuple(move or ()))
    asked = Asked(*rings, zones, for_, strokes, says, new, copy_of, delete)
    raise typer.Exit(edit_plan(path, runtime, name, asked, yes=yes))


@edit.command("week")
def _week(
    path: Building,
    days: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[DAY=PLAN...]",
            help="Such as mon=regular; `none` for no rings but the tape's.",
            show_default=False,
        ),
    ] = None,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Give weekdays other plans. Or show the week, where none is given."""
    from controller.cli.edit_week import edit_week

    raise typer.Exit(edit_week(path, runtime, days or (), yes=yes))


@edit.command("quiet")
def _quiet(
    path: Building,
    zone: Annotated[
        str | None, typer.Argument(metavar="[ZONE]", help="Which zone.", show_default=False)
    ] = None,
    half_days: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[HALF-DAY...]",
            help='Its whole row: such as sat, or "fri night".',
            show_default=False,
        ),
    ] = None,
    off: Annotated[bool, typer.Option("--off", help="The zone is never quiet.")] = False,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Give a zone another quiet row. Or show the rows, where none is given."""
    from controller.cli.edit_week import edit_quiet

    raise typer.Exit(edit_quiet(path, runtime, zone, half_days or (), off=off, yes=yes))


@edit.command("calendar")
def _calendar(
    path: Building,
    action: Annotated[
        CalendarAction,
        typer.Argument(metavar="[list|add|remove]", help="What to do.", show_default="list"),
    ] = CalendarAction.list,
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="One date.", show_default=False)
    ] = None,
    from_: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="The first of a range.", show_default=False),
    ] = None,
    until: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Its last, itself included.", show_default=False),
    ] = None,
    plan: Annotated[
        str | None,
        typer.Option(
            metavar="PLAN",
            help="The plan of these dates; `none` for no rings, `usual` for week and tape.",
            autocompletion=plans,
            show_default=False,
        ),
    ] = None,
    says: Says = None,
    lift_quiet: Annotated[
        bool, typer.Option("--lift-quiet", help="Quiet rows are lifted on these dates.")
    ] = False,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    """Add or remove an entry of the calendar. Or list those to come."""
    from controller.cli import edit_calendar as of_calendar

    asked = of_calendar.Asked(on, from_, until, plan, says, lift_quiet)
    match action:
        case CalendarAction.list:
            raise typer.Exit(of_calendar.list_calendar(path))
        case CalendarAction.add:
            raise typer.Exit(of_calendar.add_entry(path, runtime, asked, yes=yes))
        case CalendarAction.remove:
            raise typer.Exit(of_calendar.remove_entry(path, runtime, asked, yes=yes))


@edit.command("undo")
def _undo(path: Building, yes: Yes = False, runtime: Runtime = None) -> None:
    """Take the last edit back. Again, and the one before it goes too."""
    from controller.cli.files import undo

    raise typer.Exit(undo(path, runtime, yes=yes))


@edit.command("file", cls=giving("edit"))
def _file(
    source: Annotated[
        Path, typer.Argument(metavar="FILE", help="The whole new text.", show_default=False)
    ],
    path: Annotated[
        Path | None,
        typer.Argument(
            metavar="[PATH]",
            help="The building's TOML file, or a folder of them; else the daemon's.",
            show_default=False,
        ),
    ] = None,
    file: Annotated[
        str | None, typer.Option("--as", metavar="NAME", show_default="FILE's own name")
    ] = None,
    was: Annotated[
        str | None, typer.Option(metavar="FINGERPRINT", show_default="that of the files now")
    ] = None,
    yes: Yes = False,
    runtime: Runtime = None,
) -> None:
    from controller.cli.files import edit_file

    raise typer.Exit(edit_file(runtime, source, path, file or source.name, was, yes=yes))
