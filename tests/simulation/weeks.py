"""Seeded weeks, on all cores: each with at least five faults and a quiet day for judging.

    python tests/simulation/weeks.py                    1,000 weeks, as CI does
    python tests/simulation/weeks.py --weeks 10000      on demand
    python tests/simulation/weeks.py --stop             no further than the first that fails
    python tests/simulation/weeks.py --seed 17          one week again, and its last lines
    python tests/simulation/weeks.py --seed 17 --only 2,5 --lines 200
    python tests/simulation/weeks.py --seed 17 --trace  to the last line

Exit code 1 where a rule is broken, or where what could not be stored is over 1 % of the impulses.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator, Sequence
from multiprocessing import get_context
from typing import NamedTuple

from simulator.card import disk_of
from simulator.seeds import week_of
from simulator.shrink import only, shortened
from simulator.told import Coverage, failure_of, trace_of
from simulator.week import Verdict, Week, judged
from simulator.words import SECOND

WHOLE_RUN_WEEKS = 1_000
MOST_EXEMPT = 0.01  # of all impulses
MOST_TOLD = 5  # failing weeks that are shortened and told whole
LEAST_RINGS = 50
LEAST_FAULTS = 5


class Outcome(NamedTuple):
    seed: int
    rule: str  # "" where all is well
    says: str
    struck: tuple[tuple[str, tuple[str, ...]], ...]
    impulses: int
    exempt: int
    rings: dict[str, int]
    simulated_ns: int
    seconds: float


def run(week: Week) -> Verdict:
    """One week, on a store of SQLite where the seed says so."""
    return judged(week, disk_of(week))


def outcome_of(seed: int) -> Outcome:
    week = week_of(seed)
    verdict = run(week)
    rule, says = "", ""
    if verdict.violation is not None:
        rule, says = verdict.violation.rule, verdict.violation.says
    elif len(verdict.struck) < LEAST_FAULTS or sum(verdict.rings.values()) < LEAST_RINGS:
        rule, says = "a week is a week", f"{len(verdict.struck)} faults, rings {verdict.rings}"
    return Outcome(seed, rule, says, *verdict[1:-1])


def outcomes_of(seeds: Sequence[int], jobs: int) -> Iterator[Outcome]:
    """As they come, from so many processes."""
    if jobs == 1:
        yield from map(outcome_of, seeds)
        return
    with get_context("fork").Pool(jobs) as pool:
        yield from pool.imap_unordered(outcome_of, seeds, chunksize=4)


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="weeks.py", description="Seeded weeks of faults.")
    parser.add_argument("--weeks", type=int, default=WHOLE_RUN_WEEKS, help="how many")
    parser.add_argument("--from", type=int, default=0, dest="first", help="the first seed")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--stop", action="store_true", help="at the first week that fails")
    parser.add_argument("--seed", type=int, help="this one only")
    parser.add_argument("--only", help="with --seed: numbers of its happenings, or none")
    parser.add_argument("--lines", type=int, default=40, help="with --seed: so many of the last")
    parser.add_argument("--trace", action="store_true", help="with --seed: every line")
    given = parser.parse_args(arguments)
    if given.seed is not None:
        return replay(given.seed, given.only, 0 if given.trace else given.lines)
    return many(range(given.first, given.first + given.weeks), given.jobs, stop=given.stop)


def replay(seed: int, chosen: str | None, lines: int) -> int:
    """One week again: the same to the last line."""
    week = week_of(seed)
    for number, happens in enumerate(week.faults):
        print(f"  {number:2}  {happens}")
    if chosen is not None:
        kept = () if chosen == "none" else tuple(map(int, chosen.split(",")))
        week = only(week, kept)
    verdict = run(week)
    print(trace_of(week, verdict, lines))
    print(f"{verdict.impulses} impulses, rings {verdict.rings}, {verdict.seconds:.1f} s")
    if verdict.violation is None:
        print("No rule was broken.")
        return 0
    print(verdict.violation)
    return 1


def many(seeds: Sequence[int], jobs: int, *, stop: bool = False) -> int:
    """Judge them all; print what failed, the table, and what it took."""
    began = time.perf_counter()
    coverage, failed, done = Coverage(), [], []
    for outcome in outcomes_of(seeds, jobs):
        done.append(outcome)
        coverage.add(outcome.struck)
        if outcome.rule:
            failed.append(outcome)
            print(f"Seed {outcome.seed}: {outcome.rule}: {outcome.says}", flush=True)
            if stop:
                break
    for outcome in sorted(failed)[:MOST_TOLD]:
        tell_short(outcome)
    seconds = time.perf_counter() - began
    print(coverage.table())
    print(summary(done, seconds))
    exempt = sum(one.exempt for one in done)
    too_many = exempt > MOST_EXEMPT * sum(one.impulses for one in done)
    if too_many:
        print("Too much is exempt.")
    never = coverage.missing() if len(done) >= WHOLE_RUN_WEEKS else []
    if never:
        print(f"Faults that never struck: {', '.join(never)}")
    return 1 if failed or too_many or never else 0


def tell_short(outcome: Outcome) -> None:
    week = week_of(outcome.seed)
    kept, verdict = shortened(week, outcome.rule, run, outcome.simulated_ns)
    print(failure_of(week, kept, verdict or run(week)), flush=True)


def summary(done: Sequence[Outcome], seconds: float) -> str:
    simulated = sum(one.simulated_ns for one in done) / SECOND
    busy = sum(one.seconds for one in done)
    impulses, exempt = sum(one.impulses for one in done), sum(one.exempt for one in done)
    given, cut, missed = (
        sum(one.rings.get(kind, 0) for one in done) for kind in ("given", "cut", "missed")
    )
    failed = sum(bool(one.rule) for one in done)
    share = 100 * exempt / max(1, impulses)
    a_week = busy / max(1, len(done))
    faster, alone = simulated / max(seconds, 1e-9), simulated / max(busy, 1e-9)
    return (
        f"{len(done)} weeks, {failed} failed. "
        f"Rings given {given:,}, cut {cut:,}, missed with a reason {missed:,}.\n"
        f"Impulses {impulses:,}; exempt, as storing was impossible before a power cut: "
        f"{exempt:,} ({share:.4f} %).\n"
        f"{seconds:.0f} s on the clock, {a_week:.2f} s a week. "
        f"Simulated time over real time {faster:,.0f}; of one process {alone:,.0f}."
    )


if __name__ == "__main__":
    sys.exit(main())
