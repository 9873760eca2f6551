"""Orders given to a running daemon from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import typer

from controller.circuits.folders import runtime_folder
from controller.cli.spoken import paragraph
from controller.service.order_client import OrderClient

PATIENT_SECONDS = 30.0  # an impulse in progress ends within 20 s, and a slow card stores it


def asked(runtime: Path | None, order: str, **keys: Any) -> dict[str, Any]:
    """The daemon's answer to one order.

    Raises `Refused` where it says no, `NoDaemon` where none answers; both in words.
    """
    with OrderClient(runtime or runtime_folder()) as client:
        return client.ask(order, seconds=PATIENT_SECONDS, **given(keys))


def said(runtime: Path | None, order: str, **keys: Any) -> None:
    """Give an order, and print what the daemon says to it."""
    typer.echo(paragraph(asked(runtime, order, **keys)["says"], ""))


def given(keys: dict[str, Any]) -> dict[str, Any]:
    """The keys that somebody gave: the daemon knows what holds where they did not."""
    return {name: value for name, value in keys.items() if value is not None}
