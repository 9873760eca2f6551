"""A button is let go while what it rings is being changed, or before it began."""

from __future__ import annotations

import pytest
from small_panel import FIRST, SHARED
from small_world import MILLISECOND, MINUTE, SECOND
from told import misses, silences, sounded

from controller.engine.contract import Amended
from controller.engine.wishes import RingByHand

# ── amendments under way, and too late ───────────────────────────────────────────────────────────


def test_let_go_while_its_joining_is_under_way(button_world):
    world = button_world(FIRST)
    world.run(64 * SECOND)
    world.deaf_until = world.t + 400 * MILLISECOND
    world.press("north_button")
    world.run(100 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)], "nothing is left of it when the hand hears of both"


def test_let_go_and_pressed_again_while_its_joining_is_under_way(button_world):
    world = button_world(FIRST)
    world.run(64 * SECOND)
    world.deaf_until = world.t + 400 * MILLISECOND
    world.press("north_button")
    world.run(100 * MILLISECOND)
    world.let_go("north_button")
    world.run(100 * MILLISECOND)
    world.press("north_button")
    world.run(2_800 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 7.05)], "the second press counts"


def test_let_go_while_its_joining_is_under_way_and_comes_too_late(button_world):
    world = button_world(FIRST)
    world.run(64_900 * MILLISECOND)
    world.deaf_until = world.t + 300 * MILLISECOND  # beyond the end
    world.press("north_button")
    world.run(50 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)], "no sounding of its own, for nobody presses any more"


def test_a_joining_that_comes_too_late_becomes_a_sounding_of_its_own_while_pressed(button_world):
    world = button_world(FIRST)
    world.run(64_900 * MILLISECOND)
    world.deaf_until = world.t + 300 * MILLISECOND
    world.press("north_button")
    world.run(2 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world)[0][0] == 60
    assert silences(world) == [65, 66.95]


def test_letting_go_that_the_hand_hears_too_late_is_told_again(button_world):
    world = button_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.deaf_until = world.t + 80 * MILLISECOND  # longer than what it is told ahead
    world.let_go("north_button")
    world.run(MINUTE)
    assert 2 < silences(world)[-1] < 2.2, "and not ten seconds long"


def test_letting_go_too_late_beside_a_timetable_ring_leaves_that_whole(button_world):
    world = button_world(FIRST)
    world.run(62 * SECOND)
    world.press("north_button")
    world.run(2 * SECOND)
    world.deaf_until = world.t + 80 * MILLISECOND
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]
    assert [row.how for row in world.soundings()] == ["done"]


def test_a_hand_that_refuses_every_amendment_still_stops_when_it_is_let_go(button_world):
    world = button_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.rules.amend = lambda amend, now: Amended(amend.play, False)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 2)]


def test_a_hand_that_refuses_every_amendment_lets_the_timetable_ring_end(button_world):
    world = button_world(FIRST)
    world.run(62 * SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.rules.amend = lambda amend, now: Amended(amend.play, False)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 10)], "nothing can be changed any more; `longest` ends it"
    assert world.given() == [("north", "2026-11-25T08:30:00")]


# ── before it began ──────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("waited_ms", [500, 2_500])
def test_let_go_before_it_began_it_does_not_ring(button_world, waited_ms):
    """While it waits for current, and when its play is with the hand already."""
    world = button_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(waited_ms * MILLISECOND)
    world.let_go("small_button")
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_pressed_until_there_is_current_it_rings_from_then_on(button_world):
    world = button_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(5 * SECOND)
    world.let_go("small_button")
    world.run(MINUTE)
    assert sounded(world, "small") == [(3, 2.05)]


def test_let_go_before_it_began_the_timetable_ring_of_its_sounding_rings_in_its_time(button_world):
    ring = '{ at = "08:29:04", zones = ["small"], for = "2s" }'
    world = button_world(ring, more=SHARED + '[clock]\nlead = "3s"\n')
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(1_500 * MILLISECOND)  # both are one sounding now, from 08:29:03
    world.let_go("small_button")
    world.run(MINUTE)
    assert sounded(world, "small") == [(4, 2)]
    assert misses(world) == []
