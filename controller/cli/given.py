"""What of a table of the file is given on the command line, read as the file's own values are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import typer

from controller.building.entries import read_entry
from controller.building.faults import not_known
from controller.building.table import Table
from controller.building.values import EVERY_ZONE, NO_RINGS, USUAL

T = TypeVar("T", bound=Table)
ALL = "all"


def read_keys(model: type[T], keys: Mapping[str, Any]) -> T:
    """The table that has these keys. Raises `typer.BadParameter` at the first that is wrong."""
    entry, faults = read_entry(model, "", "", keys)
    for fault in faults:
        says = fault.expected if fault.value is None else f"{fault.value}: {fault.expected}"
        raise typer.BadParameter(says, param_hint=f"--{fault.key.replace('_', '-')}")
    return entry.value


def zone_names(text: str, known: Iterable[str], option: str) -> list[str]:
    """Zones with commas between them, each once; "*" or "all" is every one."""
    names = [name.strip() for name in text.split(",")]
    if EVERY_ZONE in names or ALL in names:
        return [EVERY_ZONE]
    for name in names:
        must_be_known("zone", name, known, option)
    return list(dict.fromkeys(names))


def must_be_plan(name: str, plans: Iterable[str], option: str) -> None:
    """A plan of the file, or none, or the usual."""
    must_be_known("plan", name, (*plans, NO_RINGS, USUAL), option)


def must_be_known(what: str, name: str, known: Iterable[str], option: str) -> None:
    """Raises `typer.BadParameter`, with what was probably meant, where a name is not known."""
    names = list(known)
    if name not in names:
        raise typer.BadParameter(not_known(what, name, names), param_hint=option)
