"""One run: a building, what happens to it, a quiet day, and the judgement."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from typing import NamedTuple

from simulator.disk import Disk
from simulator.house import House
from simulator.judge_end import account_for, look_at_bells, look_at_dials, nothing_is_out
from simulator.people import put_in_order
from simulator.words import HOUR, MINUTE, SECOND, Fault, Violation
from simulator.world import World

from controller.engine.wishes import QuietZones

LOOKED_AT_NS = 30 * SECOND  # into a minute, when nothing is under way
JUDGED_AFTER_NS = 4 * HOUR  # the faults ceased


class Week(NamedTuple):
    """All that one seed decides."""

    seed: int
    house: House
    start: int  # outside
    faults: tuple[Fault, ...]  # and what people do
    cease: int  # ns from the start: then the quiet day begins
    end: int
    real_store: bool = False


class Verdict(NamedTuple):
    violation: Violation | None
    struck: tuple[tuple[str, tuple[str, ...]], ...]  # fault, moments
    impulses: int
    exempt: int  # impulses
    rings: dict[str, int]
    simulated_ns: int
    seconds: float
    trace: list[tuple]


def judged(week: Week, disk: Callable[[int], Disk] = Disk) -> Verdict:
    """Run it. Whatever goes wrong, the program's own assertions too, is a violation."""
    began = time.perf_counter()
    world = begun(week.house, week.start, week.seed, disk(week.seed))
    counts: dict[str, int] = {}
    violation = None
    try:
        counts = _run(world, week)
    except Violation as found:
        violation = found
    except Exception as fault:
        violation = as_violation(fault)
    finally:
        world.disk.close()
    judge = world.judge
    return Verdict(
        violation,
        tuple(world.moments.struck),
        sum(line.impulses for line in judge.lines.values()),
        judge.exempt_impulses,
        counts,
        world.t - week.start,
        time.perf_counter() - began,
        world.trace,
    )


def as_violation(fault: Exception) -> Violation:
    """A fault of the program itself: where it came up names it."""
    trace = fault.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = "" if trace is None else f"{trace.tb_frame.f_code.co_filename.rsplit('/', 2)[-1]}"
    line = "" if trace is None else f":{trace.tb_lineno}"
    violation = Violation(f"the program does not fail ({where})", f"{fault!r} at {where}{line}")
    violation.__cause__ = fault
    return violation


def begun(house: House, start: int, seed: int = 0, disk: Disk | None = None) -> World:
    """A world in which all has been well until now."""
    world = World(house, start, seed, disk)
    world.power_on(0, 0)
    return world


def _run(world: World, week: Week) -> dict[str, int]:
    look_every(world, HOUR, week.start + week.end)
    happen(world, week.start, week.faults)
    world.run(week.start + week.cease)
    cease(world)
    quiet_from = world.t
    world.run(week.start + week.end)
    nothing_is_out(world.judge)
    look_at_bells(world.judge, quiet_from + JUDGED_AFTER_NS)
    return account_for(world.judge, week.start + MINUTE, world.t - 2 * MINUTE)


def happen(world: World, start: int, faults: Iterable[Fault]) -> None:
    """Each in its time."""
    for one in faults:
        world.plan(start + one.at, lambda one=one: world.moments.arm(one))


def look_every(world: World, every: int, until: int) -> None:
    """The dials are looked at, half a minute past."""

    def look() -> None:
        look_at_dials(world.judge)
        if world.t + every <= until:
            world.plan(world.t + every, look)

    world.plan(world.t + LOOKED_AT_NS, look)


def cease(world: World) -> None:
    """From here on nothing is the matter any more."""
    world.moments.armed.clear()
    for over in world.lasting:
        over()
    world.lasting.clear()
    world.pressed.clear()
    if not world.powered:
        world.power_on(20 * SECOND, 0)
    if not world.clock.synced or world.clock.shift != world.clock.truth:
        world.synchronise()
    fact = world.begin("ceasing")
    zones = tuple(world.program.zones)
    world.plan(world.t + MINUTE, lambda: world.order(QuietZones(zones, 0)) and None)
    world.plan(world.t + 2 * MINUTE, lambda: put_in_order(world))
    world.plan(world.t + 10 * MINUTE, lambda: world.end(fact))
