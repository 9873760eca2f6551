"""What a person orders of the bells: by hand, stop, quiet, another plan."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld
from told import misses, sounded

from controller.engine.contract import Amended
from controller.engine.wishes import Finish, HoldLine, QuietZones, RingByHand, StopAll

NORTH = ("north",)
FIRST = '{ at = "08:30", zones = ["north"], for = "5s", says = "First" }'
SECOND_RING = '{ at = "08:30:05", zones = ["north"], for = "3s", says = "Second" }'


# ── by hand ──────────────────────────────────────────────────────────────────────────────────────


def test_a_ring_by_hand_goes_at_once_and_waits_for_no_commit(world_of):
    world = world_of()
    world.commit_ns = 2 * SECOND
    order = world.order(RingByHand(NORTH, 3 * SECOND))
    world.run(SECOND)
    assert "zones.north" in world.closed_at, "it rings, and nothing is stored yet"
    assert world.answer(order) is None, "an order is answered after its commit"
    world.run(5 * SECOND)
    assert sounded(world) == [(0, 3)]
    assert "north rings now, 3 s" in world.answer(order).text


def test_a_ring_by_hand_needs_no_trusted_clock(world_of):
    world = world_of(empty_store=True)
    world.trust(False)
    world.order(RingByHand(NORTH, 3 * SECOND))
    world.run(10 * SECOND)
    assert sounded(world) == [(0, 3)]
    assert world.given() == [], "it has no identity"
    assert world.soundings()[0].by == "keeper", "but it is logged"


def test_a_ring_by_hand_ends_at_longest(world_of):
    world = world_of()
    world.order(RingByHand(NORTH, MINUTE))
    world.run(MINUTE)
    assert sounded(world) == [(0, 10)]


def test_presses_by_hand_never_pass_a_minute_s_limit(world_of):
    world = world_of(more="[clock]\ngrace = '5s'")
    for _ in range(8):
        world.order(RingByHand(NORTH, 8 * SECOND))
        world.run(9 * SECOND)
    closed = [(a * SECOND, (a + length) * SECOND) for a, length in sounded(world)]
    for _, end in closed:
        within = sum(max(0, min(b, end) - max(a, end - MINUTE)) for a, b in closed)
        assert within <= 30 * SECOND
    assert sum(b - a for a, b in closed) >= 30 * SECOND


def test_an_unknown_zone_is_refused_and_nothing_rings(world_of):
    world = world_of()
    order = world.order(RingByHand(("north", "attic"), SECOND))
    assert not world.answer(order).ok
    assert "There is no zone attic; expected north, south" in world.answer(order).text
    world.run(10 * SECOND)
    assert world.closings == []


def test_a_ring_by_hand_joins_a_sounding_by_amendment(world_of):
    world = world_of(FIRST)
    world.run(63 * SECOND)
    world.order(RingByHand(NORTH, 4 * SECOND))
    world.run(20 * SECOND)
    assert sounded(world) == [(60, 7.05)], "from 3 s into it, and 50 ms for the hand to hear of it"
    assert len(world.plays) - sum(p.circuit.startswith("lines") for p in world.plays.values()) == 1
    assert [row.by for row in world.soundings()] == ["keeper"]


def test_a_ring_by_hand_that_joins_stays_within_longest(world_of):
    world = world_of(FIRST)
    world.run(64 * SECOND)
    world.order(RingByHand(NORTH, 10 * SECOND))
    world.run(20 * SECOND)
    assert sounded(world) == [(60, 10)]
    assert world.soundings()[0].how == "cut"


@pytest.mark.parametrize("deaf", [True, False])
def test_too_late_to_join_it_becomes_a_sounding_of_its_own(world_of, deaf):
    world = world_of(FIRST)
    world.run(64_900 * MILLISECOND)
    # the hand hears of it after its last edge; the word of the end may come first, or that of this
    world.deaf_until = world.t + (200 if deaf else 0) * MILLISECOND
    if not deaf:
        world.rules.amend = lambda amend, now: Amended(amend.play, False)
    world.order(RingByHand(NORTH, 2 * SECOND))
    world.run(30 * SECOND)
    assert [row.how for row in world.soundings()] == ["done", "done"]
    assert [length for _, length in sounded(world)] == [5, 2]
    assert sounded(world)[1][0] < 65.3
    assert world.given() == [("north", "2026-11-25T08:30:00")]
    assert [row.by for row in world.soundings()] == ["", "keeper"]


def test_a_hand_that_refuses_every_amendment_is_not_asked_again(world_of):
    world = world_of(FIRST)
    world.run(61 * SECOND)
    world.rules.amend = lambda amend, now: Amended(amend.play, False)
    world.order(RingByHand(NORTH, 6 * SECOND))
    world.run(30 * SECOND)
    assert sum(len(decision.amends) for decision in world.decisions) == 1
    # it touches the first, so the limit of 10 s is one for both
    assert sounded(world) == [(60, 5), (65, 5)]


def test_stop_while_a_refused_amendment_is_out(world_of):
    world = world_of(FIRST, SECOND_RING)
    world.run(61 * SECOND)
    world.deaf_until = world.t + SECOND
    world.order(RingByHand(NORTH, 9 * SECOND))
    world.order(StopAll())
    world.run(30 * SECOND)
    assert sounded(world) == [(60, 1)]
    assert misses(world) == [("08:30:05", "quiet")]


def test_by_hand_twice_while_the_supply_is_taken_waits_and_rings_once(world_of):
    wiring = "[supply]\namps = 1.0\n[zones.big]\nrelay = 5\nbells = 1\namps_each = 1.0\n"
    wiring += "[zones.bell]\nrelay = 6\nbells = 1\namps_each = 0.5\n"
    world = world_of(more=wiring)
    world.order(RingByHand(("big",), 5 * SECOND))
    world.run(4_500 * MILLISECOND)
    world.order(RingByHand(("bell",), 2 * SECOND))
    world.run(100 * MILLISECOND)
    world.order(RingByHand(("bell",), 3 * SECOND))
    world.run(30 * SECOND)
    assert sounded(world, "bell") == [(5, 3)]


def test_by_hand_just_before_a_ring_rings_at_once_and_the_ring_joins(world_of):
    world = world_of(FIRST)
    world.run(59_300 * MILLISECOND)  # the ring of 08:30 is stored and sent
    world.order(RingByHand(NORTH, 2 * SECOND))
    world.run(20 * SECOND)
    assert sounded(world) == [(59.3, 5.7)]
    assert world.given() == [("north", "2026-11-25T08:30:00")]
    assert misses(world) == []


def test_a_ring_of_the_timetable_joins_one_by_hand(world_of):
    world = world_of(FIRST)
    world.run(57 * SECOND)
    world.order(RingByHand(NORTH, 4 * SECOND))
    world.run(20 * SECOND)
    assert sounded(world) == [(57, 8)]
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_by_hand_of_two_zones_rings_both(world_of):
    world = world_of()
    world.order(RingByHand(("north", "south"), 2 * SECOND))
    world.run(5 * SECOND)
    assert sounded(world, "north") == sounded(world, "south") == [(0, 2)]


# ── stop ─────────────────────────────────────────────────────────────────────────────────────────


def test_stop_opens_first_and_stores_afterwards(world_of):
    world = world_of(FIRST, SECOND_RING)
    world.run(62 * SECOND)
    world.commit_ns = 3 * SECOND
    order = world.order(StopAll())
    assert "zones.north" not in world.closed_at, "open before anything is stored"
    assert "Stopped north." in world.answer(order).text, "and answered before"
    world.run(30 * SECOND)
    assert sounded(world) == [(60, 2)]
    assert [row.how for row in world.soundings()] == ["cut"]
    assert misses(world) == [("08:30:05", "quiet")], "what had not begun in it is missed"
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_stop_with_nothing_sounding(world_of):
    world = world_of()
    assert world.answer(world.order(StopAll())).text == "Nothing was sounding."


def test_stop_ends_a_ring_by_hand(world_of):
    world = world_of()
    world.order(RingByHand(("north", "south"), 8 * SECOND))
    world.run(3 * SECOND)
    world.order(StopAll())
    world.run(10 * SECOND)
    assert sounded(world, "north") == sounded(world, "south") == [(0, 3)]


def test_stop_while_a_ring_by_hand_joins_says_quiet_of_what_had_not_begun(world_of):
    world = world_of(FIRST, SECOND_RING)
    world.run(62 * SECOND)
    world.order(RingByHand(NORTH, SECOND))
    world.order(StopAll())
    world.run(30 * SECOND)
    assert sounded(world) == [(60, 2)]
    assert misses(world) == [("08:30:05", "quiet")]


# ── quiet ────────────────────────────────────────────────────────────────────────────────────────


def until(world: SmallWorld, seconds: int) -> int:
    return world.now.utc + seconds * SECOND


def test_quiet_ends_a_sounding_and_misses_rings(world_of):
    world = world_of(FIRST, '{ at = "08:31", zones = ["*"], for = "5s" }')
    world.run(62 * SECOND)
    world.order(QuietZones(NORTH, until(world, 120)))
    world.run(3 * MINUTE)
    assert sounded(world) == [(60, 2)]
    assert misses(world) == [("08:31:00", "quiet")]
    assert sounded(world, "south") == [(120, 5)], "the other zone goes on"


def test_quiet_stops_timetable_rings_and_none_by_hand(world_of):
    world = world_of(FIRST)
    world.order(QuietZones(NORTH, until(world, 600)))
    world.run(10 * SECOND)
    world.order(RingByHand(NORTH, 2 * SECOND))
    world.run(2 * MINUTE)
    assert sounded(world) == [(10, 2)]
    assert misses(world) == [("08:30:00", "quiet")]


def test_quiet_that_is_lifted_in_time_lets_the_ring_through(world_of):
    world = world_of(FIRST)
    world.order(QuietZones(NORTH, until(world, 600)))
    world.run(59_500 * MILLISECOND)
    order = world.order(QuietZones(NORTH, 0))
    world.run(MINUTE)
    assert "north: rings again." in world.answer(order).text
    assert sounded(world) == [(60, 5)]


def test_a_ring_due_as_quiet_ends_is_given(world_of):
    world = world_of(FIRST)
    world.order(QuietZones(NORTH, until(world, 60)))
    world.run(2 * MINUTE)
    assert sounded(world) == [(60, 5)]


def test_quiet_as_a_ring_is_just_sent_takes_it_back(world_of):
    world = world_of(FIRST)
    world.run(59_500 * MILLISECOND)
    world.order(QuietZones(NORTH, until(world, 600)))
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == [("08:30:00", "quiet")]


def test_quiet_outlasts_a_crash(world_of):
    world = world_of(FIRST)
    world.order(QuietZones(NORTH, until(world, 600)))
    world.run(SECOND)
    world.crash()
    world.run(2 * MINUTE)
    assert sounded(world) == []


def test_finish_is_answered_once_what_was_owed_is_stored(world_of):
    world = world_of()
    world.order(HoldLine("yard"))  # or its impulse of 08:30 would be that next commit
    world.run(61_500 * MILLISECOND)
    assert world.store["line", "main"].step is not None, "that it ended goes with the next commit"
    world.commit_ns = 300 * MILLISECOND
    order = world.order(Finish())
    assert world.answer(order) is None
    world.run(400 * MILLISECOND)
    assert world.answer(order).ok
    assert world.store["line", "main"].step is None
