"""`understudy bench`: the installer's tests of relays, lines and inputs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from queue import SimpleQueue
from typing import NamedTuple

import typer

from controller.bench.conduct import Words
from controller.bench.plan import plan_of
from controller.bench.record import summary
from controller.bench.session import SCRIPTS, Ended, Places, run_bench
from controller.bench.terminal import Terminal
from controller.building.durations import MINUTE, SECOND
from controller.building.faults import not_known
from controller.building.file import read
from controller.circuits.folders import (
    fake_folder,
    fake_state_folder,
    runtime_folder,
    state_folder,
)
from controller.cli.guard import FAILED, NotDone
from controller.cli.local import duration
from controller.cli.spoken import paragraph
from controller.service.order_client import NoDaemon, OrderClient

USUAL = ("relays", "lines", "times", "inputs")
RECORDS = "bench"  # folder, in the state folder
LONGEST_WATCH_NS = 60 * MINUTE


class Asked(NamedTuple):
    """What was given on the command line."""

    tests: Sequence[str]
    only: Sequence[str]
    operations: int
    endures: int
    rate: float | None
    watch: str
    by: str
    fake: bool
    unattended: bool
    yes: bool


def bench(
    path: Path, asked: Asked, state: Path | None, runtime: Path | None, out: Path | None
) -> int:
    """Carry tests out; the exit code: 0 where no fault was found and all was done.

    Raises `Faults`, `NotDone`, `PinsFault`, `StoreFault`, or `typer.BadParameter`.
    """
    tests = _tests(asked)
    building = read(path)
    try:
        plan = plan_of(
            building,
            asked.only,
            operations=asked.operations,
            endures=asked.endures,
            rate=asked.rate,
            watch_ns=max(SECOND, duration(asked.watch, "--watch", LONGEST_WATCH_NS)),
        )
    except ValueError as fault:
        raise typer.BadParameter(str(fault), param_hint="--only") from None
    if asked.fake:
        runtime = runtime or fake_folder(path)
        state = state or fake_state_folder(runtime)
    runtime, state = runtime or runtime_folder(), state or state_folder()
    _refuse_beside_a_daemon(runtime)
    words: Words = SimpleQueue()
    person = Terminal(
        words,
        attended=not asked.unattended,
        asked_first=not (asked.unattended or asked.yes),
    )
    places = Places(path, runtime, state, out or state / RECORDS)
    return _told(
        run_bench(building, places, plan, tests, words, person, by=asked.by, fake=asked.fake)
    )


def _tests(asked: Asked) -> list[str]:
    for test in asked.tests:
        if test not in SCRIPTS:
            raise typer.BadParameter(not_known("test", test, SCRIPTS), param_hint="TEST")
    usual = USUAL[:-1] if asked.unattended else USUAL  # nobody is there to press a button
    return list(dict.fromkeys(asked.tests)) or list(usual)


def _refuse_beside_a_daemon(runtime: Path) -> None:
    try:
        OrderClient(runtime, 2.0).close()
    except NoDaemon as none:
        if not none.may_run:
            return
    raise NotDone(
        f"A daemon runs ({runtime}) and holds the pins, so no bench test can. End it first "
        "(systemctl stop understudy, or Ctrl-C where it runs), try again, and start it afterwards."
    )


def _told(ended: Ended) -> int:
    """Say how it ended; the exit code."""
    record = ended.record
    typer.echo("")
    if record.stopped:
        typer.echo(paragraph(f"Stopped early: {record.stopped}. All coils are let go.", ""))
    typer.echo(paragraph(f"{summary(record)}.", ""))
    stem = ended.file.with_suffix("")
    typer.echo(f"The record: {stem}.json, .html and .pdf, to print and sign.")
    return FAILED if record.stopped or record.faults else 0
