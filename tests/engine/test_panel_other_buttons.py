"""What is no press of a button, what else buttons do, and what a new file does to them."""

from __future__ import annotations

from small_panel import FIRST, NORTH, SHARED
from small_world import MILLISECOND, MINUTE, SECOND
from told import silences, sounded

from controller.engine.contract import NewBuilding, Outcome
from controller.engine.wishes import HoldLine, QuietZones, RingByHand, StopAll

# ── what is no press ─────────────────────────────────────────────────────────────────────────────


def test_a_button_that_is_closed_at_the_start_does_nothing_until_let_go(button_world):
    world = button_world()
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


def test_pressed_when_the_hand_is_lost_it_rings_no_more_until_pressed_again(button_world):
    world = button_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.lose_hand()
    world.run(SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == [(0, 2)]
    assert world.faults() == {"panel.north_button": True}, "closed at the start of this hand"


def test_waiting_when_the_hand_is_lost_and_let_go_meanwhile_it_does_not_ring(button_world):
    world = button_world(more=SHARED)
    world.order(RingByHand(("big",), 5 * SECOND))
    world.press("small_button")
    world.run(SECOND)
    world.lose_hand()
    world.let_go("small_button")
    world.run(SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_sent_but_not_begun_when_the_hand_is_lost_and_let_go_meanwhile(button_world):
    world = button_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(2_500 * MILLISECOND)
    assert "zones.small" in world.out
    world.lose_hand()
    world.let_go("small_button")
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_a_button_that_stays_closed_for_two_minutes_is_stuck_and_says_so(button_world):
    world = button_world()
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


def test_a_button_that_chatters_is_ignored_until_it_stood_still_for_a_minute(button_world):
    world = button_world()
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
    assert silences(world)[-1] < 5
    world.run(61 * SECOND)
    assert world.faults() == {"panel.north_button chatters": False}
    rang = len(sounded(world))
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert len(sounded(world)) == rang + 1


# ── stop and step ────────────────────────────────────────────────────────────────────────────────


def test_the_stop_button_ends_all_and_the_timetable_goes_on(button_world):
    later = '{ at = "08:31", zones = ["north"], for = "3s" }'
    world = button_world(FIRST, later)
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


def test_the_stop_button_ends_what_another_button_rings_though_it_is_pressed(button_world):
    world = button_world()
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


def test_a_press_of_the_step_button_gives_one_impulse(button_world):
    world = button_world()
    for _ in range(2):
        world.press("step_button")
        world.run(4 * SECOND)
        world.let_go("step_button")
        world.run(SECOND)
    assert sum(circuit == "lines.main" for circuit, *_ in world.closings) == 2
    assert world.shows() == {511}
    assert world.line().shown == 509, "it corrects dials; what is believed stays"


def test_the_step_button_of_a_held_line_gives_nothing_and_it_is_noted(button_world):
    world = button_world()
    world.order(HoldLine("main"))
    world.press("step_button")
    world.run(10 * SECOND)
    assert world.closings == []
    assert any("main is held: a held line gives nothing" in note for note in world.notes())


# ── another file, another order ──────────────────────────────────────────────────────────────────


def test_a_new_file_without_the_button_lets_go_of_it(button_world, world_of):
    world = button_world()
    world.press("north_button")
    world.run(2 * SECOND)
    world.put(NewBuilding(world_of().building))
    world.run(MINUTE)
    assert sounded(world) == [(0, 2.05)]
    assert world.faults() == {}


def test_a_new_file_without_a_button_that_is_stuck_ends_its_fault(button_world, world_of):
    world = button_world()
    world.press("north_button")
    world.run(3 * MINUTE)
    assert world.faults() == {"panel.north_button": True}
    world.rewire(world_of().building)
    world.run(SECOND)
    assert world.faults() == {"panel.north_button": False}


def test_a_button_that_a_new_file_adds_rings(button_world, world_of):
    world = world_of()
    world.rewire(button_world().building)
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert sounded(world) == [(0, 1.05)]


def test_quiet_by_order_stops_no_button(button_world):
    world = button_world()
    world.order(QuietZones(NORTH, world.now.utc + MINUTE))
    world.press("north_button")
    world.run(SECOND)
    world.let_go("north_button")
    world.run(SECOND)
    assert sounded(world) == [(0, 1.05)]


def test_stop_by_order_ends_a_button_that_waits_for_current(button_world):
    world = button_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.press("small_button")
    world.run(SECOND)
    world.order(StopAll())
    world.run(MINUTE)
    assert sounded(world, "small") == []


def test_a_ring_by_hand_that_waits_when_the_clock_is_set_back_is_not_for_later(button_world):
    world = button_world(more=SHARED)
    world.order(RingByHand(("big",), 3 * SECOND))
    world.order(RingByHand(("small",), 2 * SECOND))
    world.shift -= 3600 * SECOND
    world.run(10 * SECOND)
    assert sounded(world, "small") == [(3, 2)]


def test_a_hand_that_refuses_a_button_s_ring_is_asked_again_only_while_it_is_pressed(button_world):
    world = button_world()
    taking = world.rules.take
    world.rules.take = lambda play, now: Outcome(play.id, "never_began", now, now)
    world.press("north_button")
    world.run(2_500 * MILLISECOND)
    world.let_go("north_button")
    world.rules.take = taking
    world.run(MINUTE)
    assert sounded(world) == []
