"""Names for the shell to complete: those of a running daemon, where one answers at once.

Whatever goes wrong here there is nothing to complete, and nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import typer

PATIENT_SECONDS = 0.5  # somebody has pressed a key, and waits
ALL = "all"

Found = list[tuple[str, str]]  # names, and what the shell may say of them


def zones(ctx: typer.Context, incomplete: str) -> Found:
    """Zones that are not on the command line yet, and `all`."""
    had = set(ctx.params.get("zones") or ())
    names = [*_titles(_state(ctx).get("zones", {})), (ALL, "every zone")]
    return _begun([one for one in names if one[0] not in had], incomplete)


def lines(ctx: typer.Context, incomplete: str) -> Found:
    """Lines of dials."""
    return _begun(_titles(_state(ctx).get("lines", {})), incomplete)


def faults(ctx: typer.Context, incomplete: str) -> Found:
    """Faults that have ended: those that last cannot be acknowledged."""
    ended = [(one["name"], one["says"]) for one in _state(ctx).get("faults", ()) if one["until"]]
    return _begun(ended, incomplete)


def plans(ctx: typer.Context, incomplete: str) -> Found:
    """Plans of the building's files, and the two that every building has."""
    own = [("none", "no rings"), ("usual", "takes the order back")]
    return _begun([*((name, "") for name in _plans(ctx)), *own], incomplete)


def _plans(ctx: typer.Context) -> Iterator[str]:
    import tomli

    for text in _told(ctx, "files").get("files", {}).values():
        try:
            yield from tomli.loads(text).get("plans", {})
        except tomli.TOMLDecodeError:
            continue


def _state(ctx: typer.Context) -> dict[str, Any]:
    state = _told(ctx, "status").get("state", {})
    return state if isinstance(state, dict) else {}


def _told(ctx: typer.Context, order: str) -> dict[str, Any]:
    from controller.circuits.folders import runtime_folder
    from controller.service.order_client import OrderClient

    runtime = ctx.params.get("runtime")
    try:
        folder = Path(runtime) if runtime else runtime_folder()
        with OrderClient(folder, seconds=PATIENT_SECONDS) as client:
            return client.ask(order)
    except Exception:  # no words: they would stand in the middle of what is being typed
        return {}


def _titles(named: dict[str, Any]) -> Iterable[tuple[str, str]]:
    return ((name, one.get("title", "")) for name, one in named.items())


def _begun(names: Iterable[tuple[str, str]], incomplete: str) -> Found:
    return [one for one in names if one[0].startswith(incomplete)]
