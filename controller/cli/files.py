"""`understudy reload` and `understudy edit file`: another file for a daemon that runs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import typer

from controller.circuits.folders import runtime_folder
from controller.cli.asking import PATIENT_SECONDS
from controller.cli.spoken import paragraph
from controller.service.order_client import OrderClient

MOST_BYTES = 1 << 20  # of a file, as the daemon takes it
NOT_DONE = 1  # exit code


def reload(runtime: Path | None, *, yes: bool) -> int:
    """Show what the files would change, ask, and have them taken; the exit code.

    Raises `Refused` or `NoDaemon`.
    """
    with OrderClient(runtime or runtime_folder(), PATIENT_SECONDS) as client:
        fingerprint = _previewed(client)
        if not (yes or typer.confirm("Reload?")):
            typer.echo("Not reloaded: what was running goes on.")
            return NOT_DONE
        typer.echo(client.ask("reload", fingerprint=fingerprint)["says"])
    return 0


def edit_file(runtime: Path | None, file: Path, name: str, was: str | None, *, yes: bool) -> int:
    """Show what a new text of the keeper's file would change, ask, and have it written and taken.

    `was` is the fingerprint of the files on which the edit was based; those that lie there now,
    unless said. The exit code. Raises `Refused` or `NoDaemon`.
    """
    text = _text_of(file)
    with OrderClient(runtime or runtime_folder(), PATIENT_SECONDS) as client:
        fingerprint = _previewed(client, file=name, text=text)
        if not (yes or typer.confirm(f"Write {name} and reload?")):
            typer.echo("Not written: what was running goes on.")
            return NOT_DONE
        answer = client.ask("edit", file=name, text=text, was=fingerprint if was is None else was)
        typer.echo(answer["says"])
    return 0


def _previewed(client: OrderClient, **what: Any) -> str:
    """Print what would change; the fingerprint of the files that were looked at."""
    answer = client.ask("preview", **what)
    typer.echo(answer["says"])
    for change in answer["changes"]:
        typer.echo(paragraph(change))
    fingerprint: str = answer["fingerprint"]
    return fingerprint


def _text_of(file: Path) -> str:
    with file.open("rb") as stream:
        content = stream.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise typer.BadParameter(f"{file} is larger than 1 MiB", param_hint="FILE")
    try:
        return content.decode()
    except UnicodeDecodeError:
        raise typer.BadParameter(f"{file} is no UTF-8 text", param_hint="FILE") from None
