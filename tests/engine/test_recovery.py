"""From every prefix of the records a daemon starts lawfully (contract, point 6).

A small building is run through busy minutes; then once more up to each of its commits, where the
daemon dies or the power goes: before what was stored could be done, or some time after.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date, datetime

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld, Stopped

from controller.engine.records import MissRow
from controller.engine.recover import recover
from controller.engine.wishes import (
    DriveLine,
    Follow,
    GoLine,
    HoldLine,
    LineMoved,
    QuietZones,
    RingByHand,
    SetLine,
    StopAll,
)

RINGS = (
    '{ at = "08:30", zones = ["north", "south"], for = "5s" }',
    '{ at = "08:30:04", zones = ["north"], for = "9s" }',
    '{ at = "08:30:20", zones = ["south"], strokes = [1, 0.5, 1] }',
    '{ at = "08:31", zones = ["north"], for = "5s" }',
    '{ at = "08:31:40", zones = ["*"], for = "2s" }',
)


START = datetime(2026, 11, 25, 8, 29)
EVERY_RING = {
    (zone, f"2026-11-25T{at}")
    for zone, times in {
        "north": ("08:30:00", "08:30:04", "08:31:00", "08:31:40"),
        "south": ("08:30:00", "08:30:20", "08:31:40"),
    }.items()
    for at in times
}


def busy(world: SmallWorld) -> None:
    """Four minutes of rings, impulses, orders, a cut impulse, a step of the clock."""
    world.commit_ns = 30 * MILLISECOND
    world.run(62 * SECOND)
    world.order(RingByHand(("north",), 4 * SECOND))
    world.run(20 * SECOND)
    world.order(HoldLine("main"))
    world.run(SECOND)
    world.order(SetLine("main", 510, "+"))
    world.run(37_400 * MILLISECOND)  # 08:31:00.4
    world.lose_hand()
    world.new_hand()
    world.run(10 * SECOND)
    world.shift += 3 * SECOND
    world.order(QuietZones(("south",), world.now.utc + 30 * SECOND))
    world.run(20 * SECOND)
    world.order(Follow(date(2026, 11, 26), "exams"))
    world.order(HoldLine("yard"))
    world.run(30 * SECOND)
    world.order(GoLine("yard"))
    world.order(RingByHand(("south",), 8 * SECOND))
    world.run(2 * SECOND)
    world.order(StopAll())
    world.run(20 * SECOND)


PANEL = """
[panel.north_button]
pin = 5
does = "ring"
zones = ["north"]
[panel.north_switch]
pin = 6
does = "quiet"
zones = ["north"]
"""


def pressed(world: SmallWorld) -> None:
    """As long with the panel, a supply that goes, a contact that sticks, a drive."""
    world.commit_ns = 30 * MILLISECOND
    world.run(58 * SECOND)
    world.press("north_button")
    world.run(2_300 * MILLISECOND)
    world.supply(False)
    world.run(300 * MILLISECOND)
    world.supply(True)
    world.run(SECOND)
    world.let_go("north_button")
    world.run(10 * SECOND)
    world.order(DriveLine("main", 511))
    world.run(5 * SECOND)
    world.supply(False)
    world.run(700 * MILLISECOND)
    world.supply(True)
    world.run(20 * SECOND)
    world.press("north_switch")
    world.run(25 * SECOND)
    world.stick("lines.main", 0)
    world.stick("zones.south")
    world.order(SetLine("main", world.dials["main"][0].shows, None))
    world.run(20 * SECOND)
    world.let_go("north_switch")
    world.order(LineMoved("yard"))
    world.run(50 * SECOND)
    world.mend("lines.main", 0)
    world.mend("zones.south")
    world.order(SetLine("yard", world.dials["yard"][0].shows, None))
    world.run(MINUTE)


def at_rest(world: SmallWorld) -> None:
    world.commit_ns = 0
    world.supply(True)
    world.premises.stuck.clear()
    for name in world.panel:
        world.let_go(name)


@pytest.fixture(params=[busy, pressed])
def minutes(request) -> Callable[[SmallWorld], None]:
    return request.param


@pytest.fixture
def commits(world_of, minutes) -> int:
    """How many commits these minutes have; found by playing them once."""
    world = world_of(*RINGS, more=PANEL)
    minutes(world)
    assert len(world.batches) > 20
    return len(world.batches)


@pytest.mark.parametrize("power", [False, True], ids=["same boot", "another boot"])
@pytest.mark.parametrize("later_ms", [None, 300, 1_400])
def test_from_every_prefix_it_starts_and_comes_right(world_of, minutes, commits, power, later_ms):
    building = world_of(*RINGS, more=PANEL).building
    start = building.civil.instant(START)
    for after in range(2, commits + 1):  # the first is made as the world begins
        world = SmallWorld(building, start)
        world.stop_after = after
        with pytest.raises(Stopped) as stopped:
            minutes(world)
        if later_ms is not None:
            world.release(stopped.value.decision)
            world.run(later_ms * MILLISECOND)
        if power:
            world.power_cut(7 * SECOND)
        else:
            world.crash()
        at_rest(world)
        world.run(3 * MINUTE)
        for line in ("main", "yard"):
            world.order(GoLine(line))
        world.run(15 * MINUTE)
        world.run(70 * SECOND - world.now.utc % MINUTE)
        twice = [identity for identity, times in Counter(world.given()).items() if times > 1]
        assert not twice, f"after {after} commits {twice} were given twice"
        assert world.shows() == {world.true()} == {world.line().shown}, f"after {after} commits"


def test_records_in_any_order_come_to_the_same(world_of, minutes):
    world = world_of(*RINGS, more=PANEL)
    minutes(world)
    rows = list(world.store.values())
    forwards = recover(world.building, rows, world.now)
    backwards = recover(world.building, rows[::-1], world.now)
    assert forwards._replace(owed=(), follow=()) == backwards._replace(owed=(), follow=())
    assert set(forwards.owed) == set(backwards.owed)


def test_every_ring_is_accounted_for_after_any_crash(world_of, minutes, commits):
    """Given, cut as it began or while it sounded, or missed: none is lost silently."""
    building = world_of(*RINGS, more=PANEL).building
    start = building.civil.instant(START)
    for after in range(2, commits + 1):  # the first is made as the world begins
        world = SmallWorld(building, start)
        world.stop_after = after
        with pytest.raises(Stopped):
            minutes(world)
        world.crash()
        at_rest(world)
        world.run(10 * MINUTE)
        told = {
            (row.zone, ring) for row in world.soundings() if row.how != "void" for ring in row.rings
        }
        told |= {
            (row.zone, row.written)
            for row in world.store.values()
            if isinstance(row, MissRow) and row.why
        }
        assert told == EVERY_RING, f"after {after} commits"
