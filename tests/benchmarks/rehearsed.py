"""What a rehearsal costs for each impulse or sounding: the whole command, a year of the demo.

    python tests/benchmarks/rehearsed.py [--months N]

The demo has three lines of dials. Against it, in the same run, a bare loop that knows nothing of
hands, stores and polarities: it only computes, at each instant at which a line may need an impulse,
what is true and how far its dials are behind, and moves them on.

A month at a time, each way of running in turn, so that whatever else the machine does falls on all
of them alike. What counts is the processor's time, of the command from its start to its end; the
wall's time, which is longer on a shared machine, stands beside it. Without the record the command
prints its table; with it, each impulse and sounding as a line of JSON.

What the rest is made of is measured apart, over a week and with a clock around each part, which
itself costs something: so take the shares.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from rows import OURS, Figure, Goal, Row, show

import controller.rehearsal.world as worlds
from controller.building.file import read
from controller.building.model import Building
from controller.circuits.rules import HandRules
from controller.dials.position import next_change, true_position
from controller.rehearsal.script import Script
from controller.rehearsal.written import json_line

DEMO = Path(__file__).parents[2] / "config" / "marrow-lane"
UNDERSTUDY = str(Path(sys.executable).with_name("understudy"))
FIRST_OF_MONTH = [f"2026-{month:02d}-01" for month in range(1, 13)] + ["2027-01-01"]
WAYS = {"without the record": (), "with the record": ("--json",)}
GOALS = {"without the record": 10.0, "with the record": 15.0}
BARE = "a bare loop: what is true, and how far behind"


class Spent(NamedTuple):
    """What was given or computed, and the seconds that it took."""

    records: int
    processor: float
    wall: float


def commanded(start: str, until: str, options: tuple[str, ...]) -> Spent:
    """The whole command over one month."""
    command = [UNDERSTUDY, "rehearse", str(DEMO), "--from", start, "--until", until, *options]
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    said = subprocess.run(command, check=True, capture_output=True).stdout
    wall, after = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return Spent(said.count(b"\n") - 1, spent, wall)


def bare(building: Building, start: str, until: str) -> Spent:
    """The same impulses, of dials that are right at the start; nothing else is done."""
    civil = building.civil
    first, last = civil.instant_of(start), civil.instant_of(until)
    began, before = time.perf_counter(), time.process_time()
    impulses = 0
    for line in building.lines.values():
        shown, now = true_position(line, civil, first), first
        while (now := next_change(line, civil, now)) < last:
            behind = (true_position(line, civil, now) - shown) % line.positions
            if (line.positions - behind) * line.every_ns > line.patience_ns:
                shown = (shown + behind) % line.positions
                impulses += behind
    return Spent(impulses, time.process_time() - before, time.perf_counter() - began)


def together(spent: Iterable[Spent]) -> tuple[Figure, ...]:
    """For each impulse or sounding, in microseconds."""
    records, processor, wall = map(sum, zip(*spent, strict=True))
    each = 1e6 / records
    return Figure("", processor * each, "µs"), Figure("by the wall", wall * each, "µs")


def rows(months: int = 12) -> Iterator[Row]:
    """The command both ways, the bare loop, and what the command's time is made of."""
    building = read(DEMO)
    spent: dict[str, list[Spent]] = {name: [] for name in (*WAYS, BARE)}
    for start, until in pairwise(FIRST_OF_MONTH[: months + 1]):
        spent[BARE].append(bare(building, start, until))
        for name, options in WAYS.items():
            spent[name].append(commanded(start, until, options))
        # The table tells no impulses: both ways give the same.
        spent["without the record"][-1] = spent["without the record"][-1]._replace(
            records=spent["with the record"][-1].records
        )
    given = sum(one.records for one in spent["with the record"])
    what = f"rehearsal, each of {given:,} impulses and soundings"
    yield Row("P2", what, BARE, together(spent[BARE]))
    for name in WAYS:
        goal = Goal(GOALS[name], f"≤ {GOALS[name]:g} µs")
        yield Row("P2", f"{what}, {name}", OURS, together(spent[name]), goal)
    yield from parts(building)


# ── what it is made of ───────────────────────────────────────────────────────────────────────────


def parts(building: Building) -> Iterator[Row]:
    """The engine's steps, the hand's rules, the world around both, and the lines of JSON."""
    script = Script(
        building.civil.instant_of("2026-03-02"), building.civil.instant_of("2026-03-09")
    )
    clocks: dict[str, float] = {"the engine's steps": 0.0, "the hand's rules": 0.0}
    steps = _around(worlds, "step", "the engine's steps", clocks)
    hands = [
        _around(HandRules, name, "the hand's rules", clocks)
        for name in ("next_instant", "advance", "take", "cancel")
    ]
    began = time.perf_counter()
    records = list(worlds.World(building, script).records())
    whole = time.perf_counter() - began
    for restore in (steps, *hands):
        restore()
    began = time.perf_counter()
    for record in records:
        json_line(record, building.civil).encode()
    clocks["the world around both"] = whole - sum(clocks.values())
    clocks["its line of JSON"] = time.perf_counter() - began
    for part, seconds in clocks.items():
        figure = Figure("", seconds * 1e6 / len(records), "µs")
        yield Row("P2", "a rehearsal's parts, each impulse or sounding", part, (figure,))


def _around(where: Any, name: str, part: str, clocks: dict[str, float]) -> Callable[[], None]:
    """Put a clock around a function; what is given takes it off again."""
    inner = getattr(where, name)

    def clocked(*given: Any) -> Any:
        began = time.perf_counter()
        try:
            return inner(*given)
        finally:
            clocks[part] += time.perf_counter() - began

    setattr(where, name, clocked)
    return lambda: setattr(where, name, inner)


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--months", type=int, default=12, choices=range(1, 13))
    show(rows(parser.parse_args().months))


if __name__ == "__main__":
    main()
