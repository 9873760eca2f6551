"""Why a ring may be late or missed: what was the matter about its time, as the world knows it.

A reason that the controller gives counts only where the world has its cause. The system's clock may
have been stepped meanwhile, so an instant of it stands for several of outside time: one for each
way in which the clock stood about then.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from simulator import words
from simulator.words import DAY, MINUTE, SECOND

if TYPE_CHECKING:
    from simulator.judge import Judge
    from simulator.judge_bells import ZoneWatch
    from simulator.program import Due

MARGIN_NS = 90 * SECOND
GIVEN_UP_NS = 6 * SECOND  # a store is waited for 3 s, and looked at once a second
UNTRUSTED = "untrusted"
ANY = (
    words.POWER,
    words.DOWN,
    words.HAND,
    words.STEPPED,
    words.STORE,
    words.SUPPLY,
    words.CONTACT,
    words.SLOW,
    words.FILE,
    UNTRUSTED,
)
BUT_STORE = tuple(kind for kind in ANY if kind != words.STORE)


def for_lateness(judge: Judge, zone: ZoneWatch, ring: Due, late: int) -> bool:
    """Whether a ring may begin so late."""
    world = judge.world
    since = world.t - late - 2 * SECOND
    if world.touched(since, world.t, *(BUT_STORE if late > GIVEN_UP_NS else ANY)):
        return True
    if world.t - judge.people.taken_at < late + 2 * SECOND:
        return True  # an order had it judged afresh
    if world.t - zone.last_closed < late + MINUTE:
        return True  # another sounding of its zone had to end first
    return judge.program.amps is not None and any(
        world.t - other.last_closed < late + MINUTE or other.since is not None
        for other in judge.zones.values()
        if other is not zone
    )


def for_missing(judge: Judge, zone: ZoneWatch, ring: Due, why: str) -> bool:
    """Whether a ring may be missed for this reason."""
    world, grace = judge.world, judge.program.grace
    match why:
        case "quiet":
            return judge.ordered_quiet(zone.name, ring.due) or judge.stopped_about(zone.name)
        case "panel":
            return judge.switch_about(zone.name)
        case "longest" | "a-minute":
            return judge.program.zones[zone.name].longest > 0 and _crowded(judge, zone, ring)
        case "off":
            kinds: tuple[str, ...] = (words.POWER, words.DOWN, words.STEPPED, UNTRUSTED)
        case "untrusted":
            kinds = (UNTRUSTED, words.STEPPED)
        case "supply":
            if judge.program.amps is not None and _others_about(judge, zone, ring):
                return True
            kinds = (words.SUPPLY,)
        case "late":
            kinds = BUT_STORE  # bells and dials go on whatever the store does
        case "relay":
            kinds = ANY
        case _:
            return False
    if _skipped(judge, ring):
        return True
    return any(
        world.touched(at - MARGIN_NS, at + grace + MARGIN_NS, *kinds)
        for at in _instants(judge, ring.due)
    )


def _instants(judge: Judge, utc: int) -> Iterator[int]:
    """Outside instants at which the system's clock may have stood at `utc`."""
    world = judge.world
    yield utc - world.clock.shift
    for at, before, after in judge.settings:
        if at > world.t - 4 * DAY:
            yield utc - before
            yield utc - after


def _skipped(judge: Judge, ring: Due) -> bool:
    """Whether the clock was set past its time."""
    return any(
        min(at + before, at + after) - MINUTE <= ring.due <= max(at + before, at + after) + MINUTE
        for at, before, after in judge.settings
        if before != after
    )


def _crowded(judge: Judge, zone: ZoneWatch, ring: Due) -> bool:
    """Whether its zone has sounded within a minute before, or sounds; or has others due then."""
    if zone.since is not None or judge.world.t - zone.last_closed <= 2 * MINUTE:
        return True
    near = judge.program.between(ring.due - MINUTE, ring.due + MINUTE, judge.follow)
    return any(one.zone == zone.name and one.written != ring.written for one in near)


def _others_about(judge: Judge, zone: ZoneWatch, ring: Due) -> bool:
    world, grace = judge.world, judge.program.grace
    return any(
        other.since is not None or world.t - other.last_closed <= 2 * grace + MINUTE
        for other in judge.zones.values()
        if other is not zone
    )
