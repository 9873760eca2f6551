"""Buttons of the old panel: a zone rings while its button is pressed, and no longer."""

from __future__ import annotations

import pytest
from small_panel import FIRST, NORTH
from small_world import MILLISECOND, MINUTE, SECOND
from told import misses, silences, sounded

from controller.engine.wishes import RingByHand

# ── while pressed, and no longer ─────────────────────────────────────────────────────────────────


def test_it_rings_while_pressed_and_no_longer(button_world):
    world = button_world()
    world.run(SECOND)
    world.press("north_button")
    world.run(2 * SECOND)
    world.let_go("north_button")
    assert "zones.north" in world.closed_at, "the hand needs a moment to hear of it"
    world.run(MINUTE)
    assert sounded(world) == [(1, 2.05)]
    (row,) = world.soundings()
    assert (row.by, row.how, row.edges) == ("panel.north_button", "done", (0, 2_050 * MILLISECOND))


def test_it_needs_neither_trusted_clock_nor_commit(button_world):
    world = button_world(empty_store=True)
    world.trust(False)
    world.commit_ns = 3 * SECOND
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 1.05)]


def test_it_rings_no_longer_than_longest(button_world):
    world = button_world()
    world.press("north_button")
    world.run(30 * SECOND)
    world.let_go("north_button")
    world.run(30 * SECOND)
    assert sounded(world) == [(0, 10)]


def test_each_of_its_zones_rings_no_longer_than_its_own_longest(button_world):
    other = '[zones.chapel]\nrelay = 12\nlongest = "4s"\n[panel.both]\npin = 13\ndoes = "ring"\n'
    world = button_world(more=other + 'zones = ["north", "chapel"]\n')
    world.press("both")
    world.run(MINUTE)
    assert (sounded(world), sounded(world, "chapel")) == ([(0, 10)], [(0, 4)])


def test_let_go_at_once_it_rings_for_a_moment(button_world):
    world = button_world()
    world.press("north_button")
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 0.05)]


def test_presses_never_pass_what_a_minute_allows(button_world):
    world = button_world()
    for _ in range(8):
        world.press("north_button")
        world.run(9 * SECOND)
        world.let_go("north_button")
        world.run(SECOND)
    closed = [(a * SECOND, (a + length) * SECOND) for a, length in sounded(world)]
    for _, end in closed:
        within = sum(max(0, min(b, end) - max(a, end - MINUTE)) for a, b in closed)
        assert within <= 30 * SECOND


def test_one_button_for_two_zones_rings_both_while_pressed(button_world):
    world = button_world()
    world.press("all_button")
    world.run(3 * SECOND)
    world.let_go("all_button")
    world.run(MINUTE)
    assert sounded(world, "north") == sounded(world, "south") == [(0, 3.05)]


def test_a_press_is_in_the_logbook_and_answers_nobody(button_world):
    world = button_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert world.notes()[-3:] == [
        "panel.north_button: ring button pressed",
        "panel.north_button: ring by hand: north rings now, 10 s",
        "panel.north_button: ring button let go",
    ]
    assert world.answers == []


# ── with others ──────────────────────────────────────────────────────────────────────────────────


def test_it_joins_a_timetable_sounding_and_its_letting_go_does_not_cut_that(button_world):
    world = button_world(FIRST)
    world.run(61 * SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]
    assert [(row.how, row.by) for row in world.soundings()] == [("done", "panel.north_button")]
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_pressed_beyond_the_end_of_a_timetable_sounding_it_goes_on_until_let_go(button_world):
    world = button_world(FIRST)
    world.run(64 * SECOND)
    world.press("north_button")
    world.run(3 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 7.05)]


def test_a_timetable_ring_joins_while_it_is_pressed_and_stays_when_it_is_let_go(button_world):
    world = button_world(FIRST)
    world.run(58 * SECOND)
    world.press("north_button")
    world.run(3 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(58, 7)]
    assert world.given() == [("north", "2026-11-25T08:30:00")]
    assert misses(world) == []


@pytest.mark.parametrize(("let_go_at", "whole"), [(59_300, 5), (59_700, 5), (60_500, 4.45)])
def test_let_go_while_a_timetable_ring_that_joins_waits_for_the_store(
    button_world, let_go_at, whole
):
    """A card may take seconds; a button does not. (The last is planned to touch the button's, so
    `longest` counts for both.)
    """
    world = button_world(FIRST)
    world.run(55 * SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.commit_ns = 3 * SECOND
    world.run((let_go_at - 56_000) * MILLISECOND)
    assert "zones.north" in world.closed_at
    world.let_go("north_button")
    world.run(10 * SECOND)
    world.commit_ns = 0
    world.run(MINUTE)
    assert sounded(world)[0][0] == 55
    assert silences(world)[0] == round(let_go_at / 1000 + 0.05, 3)
    ((second, length),) = sounded(world)[1:]
    assert 60 <= second <= 65
    assert length == whole
    assert world.given() == [("north", "2026-11-25T08:30:00")]
    assert misses(world) == []


def test_a_ring_by_hand_need_not_wait_behind_a_timetable_ring_that_waits_for_the_store(
    button_world,
):
    world = button_world(FIRST)
    world.run(57 * SECOND)
    world.order(RingByHand(NORTH, 2 * SECOND))
    world.run(1_500 * MILLISECOND)
    world.commit_ns = 3 * SECOND
    world.run(300 * MILLISECOND)  # 08:29:58.8
    order = world.order(RingByHand(NORTH, 4 * SECOND))
    world.run(2_500 * MILLISECOND)
    assert "zones.north" in world.closed_at, "its own two seconds are long over"
    world.run(5 * SECOND)
    world.commit_ns = 0
    world.run(MINUTE)
    assert "4 s" in world.answer(order).text
    assert sum(length for _, length in sounded(world)) >= 5
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_a_timetable_ring_that_its_limit_had_left_out_rings_when_it_is_let_go(button_world):
    world = button_world(FIRST)
    world.run(50 * SECOND)
    world.press("north_button")  # up to 08:30:00 exactly, where `longest` would end it
    world.run(9_500 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(50, 9.55), (60, 5)]
    assert misses(world) == []
    assert [row.how for row in world.soundings()] == ["done", "done"]


def test_pressed_to_the_end_its_limit_leaves_the_timetable_ring_out(button_world):
    world = button_world(FIRST)
    world.run(50 * SECOND)
    world.press("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(50, 10)]
    assert misses(world) == [("08:30:00", "longest")]


def test_a_timetable_ring_that_its_limit_would_have_cut_is_whole_again(button_world):
    world = button_world(FIRST)
    world.run(53 * SECOND)
    world.press("north_button")  # with the ring of 08:30 it would be 12 s
    world.run(8 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    # the closing is one all the same, from the first to the last
    assert sounded(world) == [(53, 10)]
    world = button_world(FIRST)
    world.run(53 * SECOND)
    world.press("north_button")
    world.run(6_500 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(53, 6.55), (60, 5)]
    assert [row.how for row in world.soundings()] == ["done"]


def test_pressed_twice_within_one_sounding(button_world):
    world = button_world(FIRST)
    world.run(61 * SECOND)
    for _ in range(2):
        world.press("north_button")
        world.run(500 * MILLISECOND)
        world.let_go("north_button")
        world.run(500 * MILLISECOND)
    world.run(500 * MILLISECOND)
    world.press("north_button")
    world.run(3 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 6.55)]


def test_pressed_again_before_its_first_ring_has_ended(button_world):
    world = button_world()
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(20 * MILLISECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert silences(world)[-1] == 2.07
    assert sum(length for _, length in sounded(world)) >= 2


def test_two_buttons_on_one_zone_ring_until_the_last_is_let_go(button_world):
    world = button_world()
    world.press("north_button")
    world.run(SECOND)
    world.press("other_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(2 * SECOND)
    assert "zones.north" in world.closed_at
    world.let_go("other_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 4.05)]


def test_an_order_to_ring_goes_on_when_a_button_is_let_go(button_world):
    world = button_world()
    world.order(RingByHand(NORTH, 6 * SECOND))
    world.run(SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 6)]
