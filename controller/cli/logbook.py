"""`understudy logbook`: what was rung, missed and ordered, oldest first."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import typer

from controller.building.civil import CivilTime
from controller.building.durations import DAY
from controller.circuits.folders import kept_folder, runtime_folder
from controller.cli.asking import given
from controller.cli.local import instant
from controller.cli.spoken import columns
from controller.pictures.spoken import moment_text
from controller.service.last_state import last_state_of
from controller.service.logbook_table import write_csv
from controller.service.order_client import NoDaemon, OrderClient
from controller.service.telling import entry_words

Page = Callable[[int | None], list[dict[str, Any]]]  # what comes before this instant

MOST_ENTRIES = 100_000  # read at a time: 72 MB (tracemalloc, soundings with one ring each)
PAGE = 500
UTC = "UTC"


def logbook(runtime: Path | None, state: Path | None, since: str | None, *, as_csv: bool) -> None:
    """Print the logbook since then, or of the last day.

    Raises `StoreFault`, `NoDaemon` or `Refused`.
    """
    try:
        civil, entries = of_daemon(runtime or runtime_folder(), since)
    except NoDaemon as gone:
        if gone.may_run:
            raise
        typer.echo(f"understudy: {gone}\nRead from the store itself.", err=True)
        civil, entries = of_store(state or kept_folder(runtime or runtime_folder()), since)
    if len(entries) >= MOST_ENTRIES:
        typer.echo(f"understudy: only the newest {len(entries):,} entries", err=True)
    if as_csv:
        write_csv(sys.stdout, civil, entries)
        return
    if not entries:
        typer.echo("The logbook has no entry of that time.")
    for line in columns([(moment_text(civil, e["at"]), entry_words(e)) for e in entries]):
        typer.echo(line)


def of_daemon(
    runtime: Path, since: str | None, most: int = MOST_ENTRIES
) -> tuple[CivilTime, list[dict[str, Any]]]:
    """The building's civil time, and the newest `most` entries since then, oldest first.

    Raises `Refused` or `NoDaemon`.
    """
    with OrderClient(runtime) as client:
        civil = CivilTime(client.ask("status")["state"]["timezone"])

        def page(before: int | None) -> list[dict[str, Any]]:
            found = client.ask("logbook", **given({"since": since, "before": before}))
            entries: list[dict[str, Any]] = found["entries"]
            return entries

        return civil, _all_pages(page, most)


def of_store(
    folder: Path, since: str | None, most: int = MOST_ENTRIES
) -> tuple[CivilTime, list[dict[str, Any]]]:
    """As `of_daemon`, from the store that a daemon left. Raises `StoreFault`."""
    from controller.journal.faults import StoreFault
    from controller.journal.store import Store
    from controller.service.desk import entry_plain

    path = folder / "store.sqlite"
    if not path.is_file():
        raise StoreFault(f"{path}: there is no store; name its folder with --state")
    last = last_state_of(folder)
    civil = CivilTime(UTC if last is None else last.picture.get("timezone", UTC))
    now = time.time_ns()
    since_utc = now - DAY if since is None else instant(civil, since, "--since")
    store = Store(path)
    try:

        def page(before: int | None) -> list[dict[str, Any]]:
            until = now + DAY if before is None else before
            return [entry_plain(entry) for entry in store.logbook(since_utc, until, PAGE)]

        return civil, _all_pages(page, most)
    finally:
        store.close()


def _all_pages(page: Page, most: int) -> list[dict[str, Any]]:
    """Read on into the past until there is no more; the newest `most`, oldest first."""
    pages: list[list[dict[str, Any]]] = []
    number, before = 0, None
    while number < most:
        entries = page(before)
        if not entries or (before is not None and entries[0]["at"] >= before):
            break
        pages.append(entries)
        number, before = number + len(entries), entries[0]["at"]
    return [entry for entries in reversed(pages) for entry in entries][-most:]
