"""Buttons of the old panel: a zone rings while its button is pressed, and no longer."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld
from told import misses, sounded

from controller.engine.contract import (
    Amended,
    HoldLine,
    NewBuilding,
    Outcome,
    QuietZones,
    RingByHand,
    StopAll,
)

PANEL = """
[panel.north_button]
pin = 5
does = "ring"
zones = ["north"]
[panel.other_button]
pin = 6
does = "ring"
zones = ["north"]
[panel.all_button]
pin = 7
does = "ring"
zones = ["north", "south"]
[panel.stop_button]
pin = 8
does = "stop"
[panel.step_button]
pin = 9
does = "step"
line = "main"
"""
NORTH = ("north",)
FIRST = '{ at = "08:30", zones = ["north"], for = "5s", says = "First" }'


@pytest.fixture
def panel_world(world_of):
    def made(*rings: str, more: str = "", **kwargs) -> SmallWorld:
        return world_of(*rings, more=PANEL + more, **kwargs)

    return made


def ends(world: SmallWorld, zone: str = "north") -> list[float]:
    """Seconds from 08:29 at which it fell silent."""
    return [round(at + length, 3) for at, length in sounded(world, zone)]


# ── while pressed, and no longer ─────────────────────────────────────────────────────────────────


def test_it_rings_while_pressed_and_no_longer(panel_world):
    world = panel_world()
    world.run(SECOND)
    world.press("north_button")
    world.run(2 * SECOND)
    world.let_go("north_button")
    assert "zones.north" in world.closed_at, "the hand needs a moment to hear of it"
    world.run(MINUTE)
    assert sounded(world) == [(1, 2.05)]
    (row,) = world.soundings()
    assert (row.by, row.how, row.edges) == ("panel.north_button", "done", (0, 2_050 * MILLISECOND))


def test_it_needs_neither_trusted_clock_nor_commit(panel_world):
    world = panel_world(empty_store=True)
    world.trust(False)
    world.commit_ns = 3 * SECOND
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 1.05)]


def test_it_rings_no_longer_than_longest(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(30 * SECOND)
    world.let_go("north_button")
    world.run(30 * SECOND)
    assert sounded(world) == [(0, 10)]


def test_each_of_its_zones_rings_no_longer_than_its_own_longest(panel_world):
    other = '[zones.chapel]\nrelay = 12\nlongest = "4s"\n[panel.both]\npin = 13\ndoes = "ring"\n'
    world = panel_world(more=other + 'zones = ["north", "chapel"]\n')
    world.press("both")
    world.run(MINUTE)
    assert (sounded(world), sounded(world, "chapel")) == ([(0, 10)], [(0, 4)])


def test_let_go_at_once_it_rings_for_a_moment(panel_world):
    world = panel_world()
    world.press("north_button")
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 0.05)]


def test_presses_never_pass_what_a_minute_allows(panel_world):
    world = panel_world()
    for _ in range(8):
        world.press("north_button")
        world.run(9 * SECOND)
        world.let_go("north_button")
        world.run(SECOND)
    closed = [(a * SECOND, (a + length) * SECOND) for a, length in sounded(world)]
    for _, end in closed:
        within = sum(max(0, min(b, end) - max(a, end - MINUTE)) for a, b in closed)
        assert within <= 30 * SECOND


def test_one_button_for_two_zones_rings_both_while_pressed(panel_world):
    world = panel_world()
    world.press("all_button")
    world.run(3 * SECOND)
    world.let_go("all_button")
    world.run(MINUTE)
    assert sounded(world, "north") == sounded(world, "south") == [(0, 3.05)]


def test_a_press_is_in_the_logbook_and_answers_nobody(panel_world):
    world = panel_world()
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


def test_it_joins_a_timetable_sounding_and_its_letting_go_does_not_cut_that(panel_world):
    world = panel_world(FIRST)
    world.run(61 * SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]
    assert [(row.how, row.by) for row in world.soundings()] == [("done", "panel.north_button")]
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_pressed_beyond_the_end_of_a_timetable_sounding_it_goes_on_until_let_go(panel_world):
    world = panel_world(FIRST)
    world.run(64 * SECOND)
    world.press("north_button")
    world.run(3 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 7.05)]


def test_a_timetable_ring_joins_while_it_is_pressed_and_stays_when_it_is_let_go(panel_world):
    world = panel_world(FIRST)
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
    panel_world, let_go_at, whole
):
    """A card may take seconds; a button does not. (The last is planned to touch the button's, so
    `longest` counts for both.)
    """
    world = panel_world(FIRST)
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
    assert ends(world)[0] == round(let_go_at / 1000 + 0.05, 3)
    ((second, length),) = sounded(world)[1:]
    assert 60 <= second <= 65
    assert length == whole
    assert world.given() == [("north", "2026-11-25T08:30:00")]
    assert misses(world) == []


def test_a_ring_by_hand_need_not_wait_behind_a_timetable_ring_that_waits_for_the_store(panel_world):
    world = panel_world(FIRST)
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


def test_a_timetable_ring_that_its_limit_had_left_out_rings_when_it_is_let_go(panel_world):
    world = panel_world(FIRST)
    world.run(50 * SECOND)
    world.press("north_button")  # up to 08:30:00 exactly, where `longest` would end it
    world.run(9_500 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(50, 9.55), (60, 5)]
    assert misses(world) == []
    assert [row.how for row in world.soundings()] == ["done", "done"]


def test_pressed_to_the_end_its_limit_leaves_the_timetable_ring_out(panel_world):
    world = panel_world(FIRST)
    world.run(50 * SECOND)
    world.press("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(50, 10)]
    assert misses(world) == [("08:30:00", "longest")]


def test_a_timetable_ring_that_its_limit_would_have_cut_is_whole_again(panel_world):
    world = panel_world(FIRST)
    world.run(53 * SECOND)
    world.press("north_button")  # with the ring of 08:30 it would be 12 s
    world.run(8 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    # the closing is one all the same, from the first to the last
    assert sounded(world) == [(53, 10)]
    world = panel_world(FIRST)
    world.run(53 * SECOND)
    world.press("north_button")
    world.run(6_500 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(53, 6.55), (60, 5)]
    assert [row.how for row in world.soundings()] == ["done"]


def test_pressed_twice_within_one_sounding(panel_world):
    world = panel_world(FIRST)
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


def test_pressed_again_before_its_first_ring_has_ended(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(20 * MILLISECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert ends(world)[-1] == 2.07
    assert sum(length for _, length in sounded(world)) >= 2


def test_two_buttons_on_one_zone_ring_until_the_last_is_let_go(panel_world):
    world = panel_world()
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


def test_an_order_to_ring_goes_on_when_a_button_is_let_go(panel_world):
    world = panel_world()
    world.order(RingByHand(NORTH, 6 * SECOND))
    world.run(SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 6)]


# ── amendments under way, and too late ───────────────────────────────────────────────────────────


def test_let_go_while_its_joining_is_under_way(panel_world):
    world = panel_world(FIRST)
    world.run(64 * SECOND)
    world.deaf_until = world.t + 400 * MILLISECOND
    world.press("north_button")
    world.run(100 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)], "nothing is left of it when the hand hears of both"


def test_let_go_and_pressed_again_while_its_joining_is_under_way(panel_world):
    world = panel_world(FIRST)
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


def test_let_go_while_its_joining_is_under_way_and_comes_too_late(panel_world):
    world = panel_world(FIRST)
    world.run(64_900 * MILLISECOND)
    world.deaf_until = world.t + 300 * MILLISECOND  # beyond the end
    world.press("north_button")
    world.run(50 * MILLISECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)], "no sounding of its own, for nobody presses any more"


def test_a_joining_that_comes_too_late_becomes_a_sounding_of_its_own_while_pressed(panel_world):
    world = panel_world(FIRST)
    world.run(64_900 * MILLISECOND)
    world.deaf_until = world.t + 300 * MILLISECOND
    world.press("north_button")
    world.run(2 * SECOND)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world)[0][0] == 60
    assert ends(world) == [65, 66.95]


def test_letting_go_that_the_hand_hears_too_late_is_told_again(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.deaf_until = world.t + 80 * MILLISECOND  # longer than what it is told ahead
    world.let_go("north_button")
    world.run(MINUTE)
    assert 2 < ends(world)[-1] < 2.2, "and not ten seconds long"


def test_letting_go_too_late_beside_a_timetable_ring_leaves_that_whole(panel_world):
    world = panel_world(FIRST)
    world.run(62 * SECOND)
    world.press("north_button")
    world.run(2 * SECOND)
    world.deaf_until = world.t + 80 * MILLISECOND
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]
    assert [row.how for row in world.soundings()] == ["done"]


def test_a_hand_that_refuses_every_amendment_still_stops_when_it_is_let_go(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.rules.amend = lambda amend, now: Amended(amend.play, False)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 2)]


def test_a_hand_that_refuses_every_amendment_lets_the_timetable_ring_end(panel_world):
    world = panel_world(FIRST)
    world.run(62 * SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.rules.amend = lambda amend, now: Amended(amend.play, False)
    world.let_go("north_button")
    world.run(MINUTE)
    assert sounded(world) == [(60, 10)], "nothing can be changed any more; `longest` ends it"
    assert world.given() == [("north", "2026-11-25T08:30:00")]


# ── before it began ──────────────────────────────────────────────────────────────────────────────

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
[panel.small_button]
pin = 16
does = "ring"
zones = ["small"]
"""


@pytest.mark.parametrize("waited_ms", [500, 2_500])
def test_let_go_before_it_began_it_does_not_ring(panel_world, waited_ms):
    """While it waits for current, and when its play is with the hand already."""
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(waited_ms * MILLISECOND)
    world.let_go("small_button")
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_pressed_until_there_is_current_it_rings_from_then_on(panel_world):
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(5 * SECOND)
    world.let_go("small_button")
    world.run(MINUTE)
    assert sounded(world, "small") == [(3, 2.05)]


def test_let_go_before_it_began_the_timetable_ring_of_its_sounding_rings_in_its_time(panel_world):
    ring = '{ at = "08:29:04", zones = ["small"], for = "2s" }'
    world = panel_world(ring, more=SHARED + '[clock]\nlead = "3s"\n')
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(1_500 * MILLISECOND)  # both are one sounding now, from 08:29:03
    world.let_go("small_button")
    world.run(MINUTE)
    assert sounded(world, "small") == [(4, 2)]
    assert misses(world) == []


# ── what is no press ─────────────────────────────────────────────────────────────────────────────


def test_a_button_that_is_closed_at_the_start_does_nothing_until_let_go(panel_world):
    world = panel_world()
    world.lose_hand()
    world.panel["north_button"] = True
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == []
    assert world.faults() == {"panel.north_button": True}
    assert not world.well
    world.let_go("north_button")
    assert world.faults() == {"panel.north_button": False}
    assert world.well
    world.press("north_button")
    world.run(2 * SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert sounded(world) == [(60, 2.05)]


def test_pressed_when_the_hand_is_lost_it_rings_no_more_until_pressed_again(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.lose_hand()
    world.run(SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == [(0, 2)]
    assert world.faults() == {"panel.north_button": True}, "closed at the start of this hand"


def test_waiting_when_the_hand_is_lost_and_let_go_meanwhile_it_does_not_ring(panel_world):
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 5 * SECOND))
    world.press("small_button")
    world.run(SECOND)
    world.lose_hand()
    world.let_go("small_button")
    world.run(SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_sent_but_not_begun_when_the_hand_is_lost_and_let_go_meanwhile(panel_world):
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(2_500 * MILLISECOND)
    assert "zones.small" in world.out
    world.lose_hand()
    world.let_go("small_button")
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_a_button_that_stays_closed_for_two_minutes_is_stuck_and_says_so(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(2 * MINUTE - SECOND)
    assert world.well
    world.run(2 * SECOND)
    assert world.faults() == {"panel.north_button": True}
    assert sounded(world) == [(0, 10)]
    world.let_go("north_button")
    assert world.faults() == {"panel.north_button": False}
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert len(sounded(world)) == 2, "it rings again"


def test_a_button_that_chatters_is_ignored_until_it_stood_still_for_a_minute(panel_world):
    world = panel_world()
    for _ in range(100):
        world.press("north_button")
        world.run(50 * MILLISECOND)
        world.let_go("north_button")
        world.run(50 * MILLISECOND)
    assert world.faults() == {"panel.north_button chatters": True}
    notes = len(world.notes())
    for _ in range(300):
        world.press("north_button")
        world.run(50 * MILLISECOND)
        world.let_go("north_button")
        world.run(50 * MILLISECOND)
    assert len(world.notes()) == notes, "the logbook is not filled by it"
    assert ends(world)[-1] < 5
    world.run(61 * SECOND)
    assert world.faults() == {"panel.north_button chatters": False}
    rang = len(sounded(world))
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert len(sounded(world)) == rang + 1


# ── stop and step ────────────────────────────────────────────────────────────────────────────────


def test_the_stop_button_ends_all_and_the_timetable_goes_on(panel_world):
    later = '{ at = "08:31", zones = ["north"], for = "3s" }'
    world = panel_world(FIRST, later)
    world.run(61 * SECOND)
    world.order(RingByHand(("south",), 8 * SECOND))
    world.run(SECOND)
    world.press("stop_button")
    assert not world.closed_at, "the hand opened them before it said so"
    world.run(MINUTE)
    assert (sounded(world), sounded(world, "south")) == ([(60, 2)], [(61, 1)])
    assert "panel.stop_button: stop: north, south" in world.notes()
    assert [row.how for row in world.soundings() if row.how != "begun"] == ["cut", "cut"]
    world.run(30 * SECOND)
    assert sounded(world) == [(60, 2), (120, 3)]


def test_the_stop_button_ends_what_another_button_rings_though_it_is_pressed(panel_world):
    world = panel_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.press("stop_button")
    world.run(MINUTE)
    assert sounded(world) == [(0, 2)]
    world.let_go("north_button")
    world.run(SECOND)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert len(sounded(world)) == 2


def test_a_press_of_the_step_button_gives_one_impulse(panel_world):
    world = panel_world()
    for _ in range(2):
        world.press("step_button")
        world.run(4 * SECOND)
        world.let_go("step_button")
        world.run(SECOND)
    assert sum(circuit == "lines.main" for circuit, *_ in world.closings) == 2
    assert world.shows() == {511}
    assert world.line().shown == 509, "it corrects dials; what is believed stays"


def test_the_step_button_of_a_held_line_gives_nothing_and_it_is_noted(panel_world):
    world = panel_world()
    world.order(HoldLine("main"))
    world.press("step_button")
    world.run(10 * SECOND)
    assert world.closings == []
    assert any("main is held: a held line gives nothing" in note for note in world.notes())


# ── another file, another order ──────────────────────────────────────────────────────────────────


def test_a_new_file_without_the_button_lets_go_of_it(panel_world, world_of):
    world = panel_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.put(NewBuilding(world_of().building))
    world.run(MINUTE)
    assert sounded(world) == [(0, 2.05)]
    assert world.faults() == {}


def test_a_new_file_without_a_button_that_is_stuck_ends_its_fault(panel_world, world_of):
    world = panel_world()
    world.press("north_button")
    world.run(3 * MINUTE)
    assert world.faults() == {"panel.north_button": True}
    world.rewire(world_of().building)
    world.run(SECOND)
    assert world.faults() == {"panel.north_button": False}


def test_a_button_that_a_new_file_adds_rings(panel_world, world_of):
    world = world_of()
    world.rewire(panel_world().building)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert sounded(world) == [(0, 1.05)]


def test_quiet_by_order_stops_no_button(panel_world):
    world = panel_world()
    world.order(QuietZones(NORTH, world.now.utc + MINUTE))
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert sounded(world) == [(0, 1.05)]


def test_stop_by_order_ends_a_button_that_waits_for_current(panel_world):
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(SECOND)
    world.order(StopAll())
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_a_ring_by_hand_that_waits_when_the_clock_is_set_back_is_not_for_later(panel_world):
    world = panel_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.order(RingByHand(("small",), 2 * SECOND))
    world.shift -= 3600 * SECOND
    world.run(10 * SECOND)
    assert sounded(world, "small") == [(3, 2)]


def test_a_hand_that_refuses_a_button_s_ring_is_asked_again_only_while_it_is_pressed(panel_world):
    world = panel_world()
    taking = world.rules.take
    world.rules.take = lambda play, now: Outcome(play.id, "never_began", now, now)
    world.press("north_button")
    world.run(2_500 * MILLISECOND)
    world.let_go("north_button")
    world.rules.take = taking
    world.run(MINUTE)
    assert sounded(world) == []
