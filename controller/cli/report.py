"""`understudy report`: all that somebody far away needs to see what is wrong, in one zip file."""

from __future__ import annotations

import io
import json
import platform
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import typer

from controller.building.faults import Faults
from controller.circuits.folders import kept_folder, runtime_folder
from controller.cli.asking import asked
from controller.cli.backup import texts_of
from controller.cli.logbook import of_daemon, of_store
from controller.cli.spoken import paragraph
from controller.cli.zips import BUILDING, new_zip
from controller.journal.faults import StoreFault
from controller.service.last_good import last_good_folder
from controller.service.last_state import last_state_of
from controller.service.logbook_table import write_csv
from controller.service.order_client import NoDaemon, Refused

MOST_LOGBOOK = 2_000
MOST_FAULT_BYTES = 1 << 20
FAULT = "fault.txt"  # what the daemon leaves of a fault in the program itself
EVER = "1971-01-01"  # LOCAL, before every entry
LIBRARIES = (
    "gpiozero",
    "gpiod",
    "APScheduler",
    "pydantic",
    "tomli",
    "typer",
    "rich",
    "holidays",
    "tzdata",
)
_CONTENTS = (
    "It will contain: the versions of program, system and libraries; the state as it is now, or "
    "the last that was left; the building's files; the newest 2,000 entries of the logbook; and "
    "what the program wrote of a fault of its own, if it did. No passwords are in it; the file "
    "names rooms, and the logbook names who gave orders."
)


def report(file: Path, path: Path | None, runtime: Path | None, state: Path | None) -> None:
    """Write a report; what cannot be had is named in it, and is no reason to end.

    Raises `NotDone` or `OSError` where it cannot be written.
    """
    typer.echo(paragraph(f"{file}: {_CONTENTS}", ""))
    runtime = runtime or runtime_folder()
    state = state or kept_folder(runtime)
    lacking: dict[str, str] = {}

    def put(name: str, content: Callable[[], str]) -> None:
        try:
            archive.writestr(name, content())
        except FileNotFoundError as fault:
            lacking[name] = "there is none" if name == FAULT else str(fault)
        except (NoDaemon, Refused, StoreFault, Faults, OSError, ValueError, KeyError) as fault:
            lacking[name] = str(fault)

    with new_zip(file) as archive:
        put("state.json", lambda: _state(runtime, state))
        put("logbook.csv", lambda: _logbook(runtime, state))
        put(FAULT, lambda: _fault(state))
        try:
            for name, text in _texts(path, runtime, state).items():
                archive.writestr(BUILDING + name, text)
        except (Refused, Faults, OSError) as fault:
            lacking[BUILDING] = str(fault)
        archive.writestr("about.json", json.dumps(_about(lacking), indent=1, ensure_ascii=False))
    for name, why in lacking.items():
        typer.echo(paragraph(f"Not in it: {name} ({why})", ""))
    typer.echo(f"{file} is written.")


def _about(lacking: dict[str, str]) -> dict[str, Any]:
    return {
        "version": _installed("understudy"),
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        "platform": platform.platform(),
        "machine": _machine(),
        "python": sys.version,
        "libraries": {name: _installed(name) for name in LIBRARIES},
        "uptime_seconds": round(time.monotonic()),
        "lacking": lacking,
    }


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def _machine() -> str:
    """The board's model, by the kernel's device tree; "" where there is none."""
    try:
        return Path("/proc/device-tree/model").read_text(encoding="utf-8").strip("\0")
    except (OSError, UnicodeDecodeError):
        return ""


def _state(runtime: Path, folder: Path) -> str:
    try:
        told: dict[str, Any] = {"from": "the daemon", "state": asked(runtime, "status")["state"]}
    except NoDaemon as gone:
        last = last_state_of(folder)
        if last is None:
            raise
        told = {"from": f"last-state file; {gone}", "at_utc": last.at_utc, "state": last.picture}
    return json.dumps(told, indent=1, ensure_ascii=False)


def _logbook(runtime: Path, folder: Path) -> str:
    try:
        civil, entries = of_daemon(runtime, EVER, MOST_LOGBOOK)
    except NoDaemon:
        civil, entries = of_store(folder, EVER, MOST_LOGBOOK)
    table = io.StringIO()
    write_csv(table, civil, entries)
    return table.getvalue()


def _fault(folder: Path) -> str:
    with (folder / FAULT).open("rb") as file:
        return file.read(MOST_FAULT_BYTES).decode(errors="replace")


def _texts(path: Path | None, runtime: Path, folder: Path) -> dict[str, str]:
    """The building's files: those at `path`, else as they run, else their last good copy."""
    if path is not None:
        return texts_of(path)
    try:
        files: dict[str, str] = asked(runtime, "files")["files"]
    except NoDaemon:
        return texts_of(last_good_folder(folder))
    return files
