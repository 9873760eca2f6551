"""`understudy status`, and `understudy lines` without more: what the daemon says of itself."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

import typer

from controller.building.faults import not_known
from controller.circuits.folders import kept_folder, runtime_folder
from controller.cli.asking import asked
from controller.cli.spoken import columns
from controller.cli.status_words import (
    body_lines,
    line_lines,
    line_rows,
    status_lines,
)
from controller.pictures.spoken import how_long_ago
from controller.service.last_state import LastState, last_state_of
from controller.service.order_client import NoDaemon, OrderClient
from controller.service.state_words import moment, unsettled

DOWN = 3  # exit code: no daemon answers, and its last state was shown
NOTHING = 1  # exit code: nor is there a last state
_CLEAR = "\x1b[H\x1b[J"  # ECMA-48: to the upper left, erase from there


def status(runtime: Path | None, state: Path | None, *, as_json: bool, follow: bool) -> int:
    """Print the state, or go on printing it; the exit code.

    Raises `NoDaemon` where one may run that this user cannot ask.
    """
    try:
        if follow:
            _follow(runtime or runtime_folder(), as_json)
        _print(asked(runtime, "status")["state"], as_json)
    except NoDaemon as gone:
        if gone.may_run:
            raise
        return _print_last(gone, state or kept_folder(runtime or runtime_folder()), as_json)
    return 0


def _follow(runtime: Path, as_json: bool) -> None:
    """Print the state whenever it has changed, until the daemon goes away. Raises `NoDaemon`."""
    on_terminal = sys.stdout.isatty()
    before: dict[str, Any] = {}
    with OrderClient(runtime) as client:
        for picture in client.watch():
            if as_json:
                typer.echo(_json(picture))
            elif on_terminal:
                typer.echo(_CLEAR + "\n".join(status_lines(picture)))
            elif lasting_part(picture) != before:
                before = lasting_part(picture)
                typer.echo("\n".join((*status_lines(picture), "")))


def lasting_part(picture: dict[str, Any]) -> dict[str, Any]:
    """Without what changes as time goes by alone."""
    zones = {name: (zone["state"], zone["until"]) for name, zone in picture["zones"].items()}
    return {**picture, "at": "", "at_utc": 0, "zones": zones}


def _print(picture: dict[str, Any], as_json: bool) -> None:
    typer.echo(_json(picture) if as_json else "\n".join(status_lines(picture)))


def _json(picture: dict[str, Any]) -> str:
    return json.dumps(picture, ensure_ascii=False)


def _print_last(gone: NoDaemon, folder: Path, as_json: bool) -> int:
    last = last_state_of(folder)
    if last is None:
        typer.echo(f"understudy: {gone}\nNor did one leave its state in {folder}.", err=True)
        return NOTHING
    if as_json:
        typer.echo(f"understudy: {down_text(last)}", err=True)
        _print(last.picture, as_json)
        return DOWN
    typer.echo(down_text(last))
    try:
        typer.echo("\n".join(body_lines(last.picture)))
    except (KeyError, TypeError, ValueError, AttributeError):  # of another version
        typer.echo("It cannot be shown in words; with --json it is printed as it is.")
    typer.echo("\nNothing rings and no dial moves until it runs again.")
    typer.echo(f"understudy: {gone}", err=True)
    return DOWN


def down_text(last: LastState) -> str:
    """That the daemon is down, and how old what follows is."""
    age = how_long_ago(time.time_ns() - last.at_utc)
    return f"The daemon is DOWN. This was its state {age}{_local_text(last.picture)}."


def _local_text(picture: dict[str, Any]) -> str:
    try:
        return f" ({moment(picture['at'])})"
    except (KeyError, TypeError, ValueError):  # of another version
        return ""


def print_lines(runtime: Path | None, line: str | None) -> None:
    """List the lines of dials, or show one."""
    picture = asked(runtime, "status")["state"]
    if line is not None:
        if line not in picture["lines"]:
            raise typer.BadParameter(not_known("line", line, picture["lines"]), param_hint="LINE")
        typer.echo("\n".join(line_lines(picture, line)))
        return
    if not picture["lines"]:
        typer.echo("The building has no dials.")
    typer.echo("\n".join(columns(line_rows(picture))))
    for thing in unsettled(picture):
        if thing.name in picture["lines"]:
            typer.echo(f"{thing.name}: {thing.command}")
