"""Commands to see and to keep: the state, the logbook, the files, backups."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from controller.cli.described import giving
from controller.cli.edit import edit
from controller.cli.options import Runtime, State, Yes

seeing = typer.Typer()
keeping = typer.Typer()

Source = Annotated[
    Path | None,
    typer.Argument(
        metavar="[PATH]",
        help="The building's files, where no daemon runs; else the last good copy of them.",
        show_default=False,
    ),
]


@seeing.command("status")
def _status(
    as_json: Annotated[bool, typer.Option("--json", help="As JSON.")] = False,
    follow: Annotated[
        bool, typer.Option("--follow", help="Go on showing it, until ended with Ctrl-C.")
    ] = False,
    runtime: Runtime = None,
    state: State = None,
) -> None:
    """Say whether all is well. And what is to be settled, and what comes next.

    Where no daemon answers, the last state that one left is shown, with exit code 3.
    """
    from controller.cli.status import status

    raise typer.Exit(status(runtime, state, as_json=as_json, follow=follow))


@seeing.command("logbook", cls=giving("logbook"))
def _logbook(
    since: Annotated[str | None, typer.Option(metavar="LOCAL", show_default=False)] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="As a table for other programs.")] = False,
    runtime: Runtime = None,
    state: State = None,
) -> None:
    from controller.cli.logbook import logbook

    logbook(runtime, state, since, as_csv=as_csv)


@keeping.command("first-start")
def _first_start(runtime: Runtime = None) -> None:
    """Be led through a first start. Questions on the clock, and on what the dials show."""
    from controller.cli.first_start import first_start

    first_start(runtime)


@keeping.command("reload", cls=giving("reload"))
def _reload(yes: Yes = False, runtime: Runtime = None) -> None:
    from controller.cli.files import reload

    raise typer.Exit(reload(runtime, yes=yes))


keeping.add_typer(edit, name="edit")


@keeping.command("backup")
def _backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new zip file.")],
    path: Source = None,
    runtime: Runtime = None,
    state: State = None,
) -> None:
    """Keep store and files in one file. For another card or machine."""
    from controller.cli.backup import backup

    backup(file, path, runtime, state)


@keeping.command("restore")
def _restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A backup.")],
    files: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Put the building's files here; it must not be there yet.",
            show_default="they are left in the backup",
        ),
    ] = None,
    runtime: Runtime = None,
    state: State = None,
) -> None:
    """Make a store from a backup. Where no daemon runs; all lines are unread then.

    A store that is there is kept under another name.
    """
    from controller.cli.backup import restore

    restore(file, runtime, state, files)


@keeping.command("report")
def _report(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new zip file.")],
    path: Source = None,
    runtime: Runtime = None,
    state: State = None,
) -> None:
    """Pack what helps somebody far away. Versions, state, files and logbook in one file."""
    from controller.cli.report import report

    report(file, path, runtime, state)
