"""Whether a sounding was as written, whether the logbook tells of it truly, whether the supply
bears all that sounds at once, and whether whoever asked was answered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import words
from simulator.program import Closings, union
from simulator.words import MILLISECOND, MINUTE, SECOND, Violation

from controller.engine import contract, wishes
from controller.engine.contract import Outcome, Play
from controller.engine.records import SoundingRow

if TYPE_CHECKING:
    from simulator.judge import Judge
    from simulator.judge_bells import SoundingWatch

EDGE_NS = 2 * MILLISECOND
OVERLAP_NS = 150 * MILLISECOND  # as one sounding ends and another begins
ANSWERED_NS = 200 * SECOND  # a hold waits for an impulse, and a stall for the store
RINGS_NS = 1_100 * MILLISECOND  # "now" is within a second
_SLACK_AMPS = 1e-6


def sounded_as_written(judge: Judge, watch: SoundingWatch, play: Play, how: str) -> None:
    """A sounding of the timetable alone closes its contact whenever any of its rings would."""
    row = watch.row
    if how == "gone" or row is None or row.by or len(watch.rows) > 1 or watch.first is None:
        return
    if _unsteady(judge, watch):
        return
    late = max(0, watch.first - play.start_mono)
    asked = union(
        [
            (start + late + a, start + late + b)
            for ring, start in watch.heard(play)
            for a, b in ring.closings
        ]
    )
    if _beyond_limits(judge, watch, asked):
        return
    if how == "cut":
        if not (watch.stuck or _somebody_stopped(judge, watch.zone)):
            raise Violation("no sounding is cut without a cause", f"{row}")
        return
    if not _alike(tuple(watch.closings), asked):
        raise Violation("a sounding is as written", f"{watch.closings} for {asked}: {row}")


def _somebody_stopped(judge: Judge, zone: str) -> bool:
    people = judge.people
    if people.stopped_about(zone) or people.switch_about(zone):
        return True
    if judge.world.touched(judge.world.t, judge.world.t, words.DOWN):
        return True  # the daemon ends, in order
    given = people.given  # what the engine is just taking
    if isinstance(given, contract.Order):
        return isinstance(given.what, wishes.QuietZones | wishes.StopAll)
    return isinstance(given, contract.PanelMoved)


def _unsteady(judge: Judge, watch: SoundingWatch) -> bool:
    """Whether clock or machine were such that instants need not be those foreseen."""
    since = watch.decided
    world = judge.world
    stepped = any(at >= since for at, _, _ in judge.settings[-3:])
    return stepped or world.late_margin_ns > 0 or world.touched(since, world.t, words.SLOW)


def _beyond_limits(judge: Judge, watch: SoundingWatch, asked: Closings) -> bool:
    zone = judge.zones[watch.zone]
    if any(b - a > zone.rules.longest for a, b in asked):
        return True
    since = asked[-1][1] + judge.world.clock.mono_zero - 2 * MINUTE
    before = sum(b - max(a, since) for a, b in zone.minute if b > since)
    return before + sum(b - a for a, b in asked) > zone.rules.a_minute


def _alike(one: Closings, other: Closings) -> bool:
    return len(one) == len(other) and all(
        abs(a - c) <= EDGE_NS and abs(b - d) <= EDGE_NS
        for (a, b), (c, d) in zip(one, other, strict=True)
    )


def told_truly(judge: Judge, row: SoundingRow) -> None:
    """What the logbook says of a sounding that the hand has ended is what its relay did."""
    played = judge.played.get(row.play)
    given = judge.people.given
    if played is None or not isinstance(given, Outcome) or given.play != row.play:
        return
    closings, rings = played
    if judge.world.late_margin_ns or given.start == given.end or not closings:
        return
    told = tuple(
        (row.start_mono + a, row.start_mono + b)
        for a, b in zip(row.edges[::2], row.edges[1::2], strict=True)
    )
    if not _alike(told, tuple(closings)):
        raise Violation("the logbook tells what was", f"{closings}, told as {row}")
    if set(row.rings) != set(rings):
        raise Violation("the logbook tells what was", f"{rings} began, told as {row}")


def within_supply(judge: Judge) -> None:
    """All that sounds at once, with the lines' own, is not more than the supply gives."""
    program = judge.program
    if program.amps is None:
        return
    closed = [zone for zone in judge.zones.values() if zone.since is not None]
    drawn = sum(program.drawn.get(zone.name, 0.0) for zone in closed) + program.lines_draw
    if drawn <= program.amps + _SLACK_AMPS:
        return
    since = {zone.name: zone.since for zone in closed}

    def still() -> None:
        if judge.deaf() or any(judge.zones[name].since != at for name, at in since.items()):
            return
        raise Violation("no more than the supply gives", f"{drawn:.2f} A: {[*since]}")

    judge.world.plan(judge.world.t + OVERLAP_NS + judge.world.late_margin_ns, still)


def will_be_answered(judge: Judge, number: int, what: object, who: str) -> None:
    """An order is answered; a ring by hand that is said to ring does."""
    world, daemon = judge.world, judge.world.daemon

    def look() -> None:
        alive = world.daemon is daemon and daemon is not None and not daemon.hung
        if alive and not daemon.ending and number not in world.answers:
            raise Violation("an order is answered", f"{what} of {who}")

    world.plan(world.t + ANSWERED_NS, look)
    if not isinstance(what, wishes.RingByHand) or world.touched(world.t - MINUTE, world.t):
        return
    asked = world.t

    def rings() -> None:
        answer = world.answers.get(number)
        if answer is None or world.touched(asked, world.t):
            return
        for name in what.zones:
            zone = judge.zones[name]
            sounds = zone.since is not None or zone.last_closed >= asked
            stopped = any(its == name and at >= asked for its, at in judge.people.stops)
            if f"{name} rings now" in answer.text and not (sounds or stopped):
                raise Violation("a ring by hand rings", f"{answer}")

    world.plan(asked + RINGS_NS, rings)
