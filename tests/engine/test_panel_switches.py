"""Switches of the old panel: while one is closed nothing rings in its zones, by hand neither."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld
from told import misses, sounded

from controller.engine.wishes import RingByHand

PANEL = """
[panel.north_switch]
pin = 5
does = "quiet"
zones = ["north"]
[panel.both_switch]
pin = 6
does = "quiet"
zones = ["north", "south"]
[panel.north_button]
pin = 7
does = "ring"
zones = ["north"]
[panel.all_button]
pin = 8
does = "ring"
zones = ["north", "south"]
"""
NORTH = ("north",)
FIRST = '{ at = "08:30", zones = ["north"], for = "5s", says = "First" }'
SECOND_RING = '{ at = "08:30:05", zones = ["north"], for = "3s", says = "Second" }'
SHARED = """
[supply]
amps = 1.0
[zones.big]
relay = 14
bells = 1
amps_each = 1.0
[zones.small]
relay = 15
bells = 1
amps_each = 0.5
[panel.small_switch]
pin = 16
does = "quiet"
zones = ["small"]
"""


@pytest.fixture
def panel_world(world_of):
    def made(*rings: str, more: str = "", **kwargs) -> SmallWorld:
        return world_of(*rings, more=PANEL + more, **kwargs)

    return made


# ── the timetable's rings ────────────────────────────────────────────────────────────────────────


def test_closed_before_a_ring_it_is_missed_and_the_panel_is_why(panel_world):
    world = panel_world('{ at = "08:30", zones = ["*"], for = "5s" }')
    world.run(10 * SECOND)
    world.press("north_switch")
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]
    assert sounded(world, "south") == [(60, 5)], "the other zone goes on"


def test_closed_in_mid_sounding_it_ends_and_is_not_given_again(panel_world):
    world = panel_world(FIRST)
    world.run(62 * SECOND)
    world.press("north_switch")
    assert "zones.north" not in world.closed_at
    world.run(SECOND)
    world.let_go("north_switch")
    world.run(MINUTE)
    assert sounded(world) == [(60, 2)]
    assert [row.how for row in world.soundings()] == ["cut"]
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_closed_in_mid_sounding_what_had_not_begun_in_it_is_missed(panel_world):
    world = panel_world(FIRST, SECOND_RING)
    world.run(62 * SECOND)
    world.press("north_switch")
    world.run(MINUTE)
    assert sounded(world) == [(60, 2)]
    assert misses(world) == [("08:30:05", "panel")]


def test_closed_as_a_ring_is_just_sent_takes_it_back(panel_world):
    world = panel_world(FIRST)
    world.run(59_500 * MILLISECOND)
    assert "zones.north" in world.out
    world.press("north_switch")
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]


def test_closed_while_a_ring_waits_for_the_store_it_does_not_ring(panel_world):
    world = panel_world(FIRST)
    world.run(58 * SECOND)
    world.commit_ns = 5 * SECOND
    world.run(3 * SECOND)
    world.press("north_switch")
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]


def test_opened_again_before_the_ring_is_due_lets_it_through(panel_world):
    world = panel_world(FIRST)
    world.press("north_switch")
    world.run(59_500 * MILLISECOND)
    world.let_go("north_switch")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]
    assert misses(world) == []


def test_opened_again_within_grace_a_ring_that_was_due_stays_missed(panel_world):
    """Whoever was at the bell counted on it; the ring is not made up for."""
    world = panel_world(FIRST)
    world.press("north_switch")
    world.run(65 * SECOND)
    world.let_go("north_switch")
    world.run(MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]


def test_closed_and_opened_in_the_second_before_a_ring_lets_it_through(panel_world):
    world = panel_world(FIRST)
    world.run(59_200 * MILLISECOND)
    world.press("north_switch")
    world.run(300 * MILLISECOND)
    world.let_go("north_switch")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]


def test_closed_while_rings_wait_for_current_they_are_missed_at_once(panel_world):
    both = '{ at = "08:30", zones = ["big", "small"], for = "5s" }'
    world = panel_world(both, more=SHARED)
    world.run(62 * SECOND)
    world.press("small_switch")
    world.run(SECOND)
    assert misses(world) == [("08:30:00", "panel")]
    world.let_go("small_switch")
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_two_switches_of_one_zone_keep_it_quiet_until_both_are_open(panel_world):
    second = '{ at = "08:31", zones = ["north"], for = "5s" }'
    world = panel_world(FIRST, second)
    world.press("north_switch")
    world.press("both_switch")
    world.run(30 * SECOND)
    world.let_go("north_switch")
    world.run(50 * SECOND)
    world.let_go("both_switch")
    world.run(MINUTE)
    assert sounded(world) == [(120, 5)]
    assert misses(world) == [("08:30:00", "panel")]


# ── rings by hand ────────────────────────────────────────────────────────────────────────────────


def test_a_ring_by_hand_is_refused_there_for_somebody_may_be_at_the_bell(panel_world):
    world = panel_world()
    world.press("north_switch")
    answer = world.said(RingByHand(NORTH, 3 * SECOND))
    assert not answer.ok
    assert "somebody may be at the bell" in answer.text
    world.let_go("north_switch")
    world.run(MINUTE)
    assert sounded(world) == [], "and it does not wait for the switch"


def test_a_ring_by_hand_of_two_zones_rings_the_one_whose_switch_is_open(panel_world):
    world = panel_world()
    world.press("north_switch")
    answer = world.said(RingByHand(("north", "south"), 3 * SECOND))
    assert answer.ok
    assert "north does not ring" in answer.text
    assert "south rings now, 3 s" in answer.text
    world.run(MINUTE)
    assert (sounded(world), sounded(world, "south")) == ([], [(0, 3)])


def test_a_button_does_not_ring_there_and_it_is_noted_once(panel_world):
    world = panel_world()
    world.press("north_switch")
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_switch")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == []
    assert sum("somebody may be at the bell" in note for note in world.notes()) == 1


def test_closed_it_ends_what_a_button_rings_in_its_zone_and_no_other(panel_world):
    world = panel_world()
    world.press("all_button")
    world.run(2 * SECOND)
    world.press("north_switch")
    world.run(2 * SECOND)
    world.let_go("all_button")
    world.run(MINUTE)
    assert (sounded(world), sounded(world, "south")) == ([(0, 2)], [(0, 4.05)])


def test_closed_while_a_ring_by_hand_waits_for_current_it_is_not_given(panel_world):
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.order(RingByHand(("small",), 3 * SECOND))
    world.run(SECOND)
    world.press("small_switch")
    world.run(500 * MILLISECOND)
    world.let_go("small_switch")
    world.run(MINUTE)
    assert sounded(world, "small") == []
    assert "keeper: ring of small by hand not given: panel" in world.notes()


def test_closed_while_a_ring_by_hand_joins_and_the_hand_has_not_heard_of_it(panel_world):
    world = panel_world(FIRST)
    world.run(62 * SECOND)
    world.deaf_until = world.t + SECOND
    world.order(RingByHand(NORTH, 8 * SECOND))
    world.press("north_switch")
    world.run(MINUTE)
    assert sounded(world) == [(60, 2)]


# ── as they stand ────────────────────────────────────────────────────────────────────────────────


def test_closed_at_the_start_it_counts_as_it_stands(panel_world):
    world = panel_world(FIRST)
    world.run(10 * SECOND)
    world._moved("north_switch", True)
    world.crash()
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]
    assert world.well, "a switch that is closed is no fault"


def test_closed_while_the_hand_is_lost_it_counts_when_the_next_is_there(panel_world):
    world = panel_world(FIRST)
    world.run(50 * SECOND)
    world.lose_hand()
    world.press("north_switch")
    world.run(15 * SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]


def test_opened_while_the_hand_is_lost_rings_go_on_when_the_next_is_there(panel_world):
    second = '{ at = "08:31", zones = ["north"], for = "5s" }'
    world = panel_world(FIRST, second)
    world.press("north_switch")
    world.run(50 * SECOND)
    world.lose_hand()
    world.let_go("north_switch")
    world.run(20 * SECOND)
    assert misses(world) == [("08:30:00", "panel")], "as it stood when it was last seen"
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == [(120, 5)]


def test_a_new_file_without_the_switch_lets_its_zone_ring(panel_world, world_of):
    world = panel_world(FIRST)
    world.press("north_switch")
    world.run(30 * SECOND)
    world.rewire(world_of(FIRST).building)
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]


def test_a_new_file_that_adds_a_closed_switch_keeps_its_zone_quiet(panel_world, world_of):
    world = world_of(FIRST)
    world.run(30 * SECOND)
    building = panel_world(FIRST).building
    world.panel["north_switch"] = True
    world.rewire(building)
    world.run(MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "panel")]


def test_a_switch_that_chatters_is_obeyed_and_said(panel_world):
    world = panel_world()
    for _ in range(40):
        world.press("north_switch")
        world.run(50 * MILLISECOND)
        world.let_go("north_switch")
        world.run(50 * MILLISECOND)
    assert world.faults() == {"panel.north_switch chatters": True}
    notes = len(world.notes())
    for _ in range(100):
        world.press("north_switch")
        world.run(50 * MILLISECOND)
        world.let_go("north_switch")
        world.run(50 * MILLISECOND)
    assert len(world.notes()) == notes
    world.press("north_switch")
    assert not world.said(RingByHand(NORTH, SECOND)).ok
    world.let_go("north_switch")
    world.run(2 * MINUTE)
    assert world.faults() == {"panel.north_switch chatters": False}


def test_closing_and_opening_are_in_the_logbook(panel_world):
    world = panel_world()
    world.press("both_switch")
    world.let_go("both_switch")
    world.run(SECOND)
    assert world.notes()[-2:] == [
        "panel.both_switch: switch closed: quiet, north, south",
        "panel.both_switch: switch opened: rings again, north, south",
    ]
