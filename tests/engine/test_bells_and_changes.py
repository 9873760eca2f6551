"""Bells while the plan, the file, trust in the clock or the hand changes."""

from __future__ import annotations

from datetime import date

import pytest
from small_world import MILLISECOND, MINUTE, SECOND
from told import misses, sounded

from controller.engine.contract import NewBuilding, Outcome
from controller.engine.wishes import Follow

FIRST = '{ at = "08:30", zones = ["north"], for = "5s", says = "First" }'


# ── another plan, another file ───────────────────────────────────────────────────────────────────


def test_a_date_follows_another_plan_and_the_usual_again(world_of):
    world = world_of(FIRST, '{ at = "08:31", zones = ["north"], for = "2s" }')
    world.order(Follow(date(2026, 11, 25), "exams"))
    world.run(100 * SECOND)
    order = world.order(Follow(date(2026, 11, 25), "usual"))
    world.run(MINUTE)
    assert sounded(world) == [(90, 1), (120, 2)]
    assert "2026-11-25: the one-off order is taken back" in world.answer(order).text
    assert "2 rings on Wed 25 Nov, from 08:30 to 08:31" in world.answer(order).text


@pytest.mark.parametrize("lead", ["1s", "10s"])
def test_a_ring_already_sent_is_taken_back_where_its_date_follows_another_plan(world_of, lead):
    world = world_of(FIRST, more=f'[clock]\nlead = "{lead}"')
    world.run(59_500 * MILLISECOND)
    world.order(Follow(date(2026, 11, 25), "none"))
    world.run(MINUTE)
    assert sounded(world) == []
    assert misses(world) == [], "it is not due any more"


def test_a_ring_already_sent_is_given_as_a_new_file_has_it(world_of):
    world = world_of(FIRST)
    world.run(59_500 * MILLISECOND)
    world.put(NewBuilding(world_of(FIRST.replace("5s", "2s")).building))
    world.run(MINUTE)
    assert sounded(world) == [(60, 2)]


def test_a_ring_under_way_is_finished_whatever_its_date_follows(world_of):
    world = world_of(FIRST)
    world.run(61 * SECOND)
    world.order(Follow(date(2026, 11, 25), "none"))
    world.run(MINUTE)
    assert sounded(world) == [(60, 5)]


def test_a_plan_that_is_not_there_is_refused(world_of):
    world = world_of(FIRST)
    order = world.order(Follow(date(2026, 11, 25), "party"))
    assert not world.answer(order).ok
    assert "There is no plan party; expected none, usual, daily, exams" in world.answer(order).text


def test_a_ring_that_a_new_file_brings_for_the_past_is_never_rung(world_of):
    world = world_of()
    world.run(70 * SECOND)
    other = world_of(FIRST).building  # due 10 s ago: within grace, but the file did not have it
    world.put(NewBuilding(other))
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == []


def test_a_ring_that_a_new_file_brings_for_the_next_second_is_rung(world_of):
    world = world_of()
    world.run(59_500 * MILLISECOND)
    world.put(NewBuilding(world_of(FIRST).building))
    world.run(2 * MINUTE)
    assert sounded(world) == [(60, 5)]


def test_a_ring_that_a_new_file_drops_while_it_waits_is_not_rung(world_of):
    world = world_of(FIRST)
    world.lose_hand()
    world.run(65 * SECOND)
    world.put(NewBuilding(world_of().building))
    world.new_hand()
    world.run(2 * MINUTE)
    assert sounded(world) == []


# ── a slow store ──


def test_a_sounding_that_the_store_held_up_still_keeps_others_waiting_for_the_supply(world_of):
    zones = "".join(
        f"[zones.{name}]\nrelay = {pin}\nbells = 1\namps_each = 0.6\n"
        for name, pin in (("a", 5), ("b", 6))
    )
    both = '{ at = "08:30", zones = ["a", "b"], for = "5s" }'
    world = world_of(both, more="[supply]\namps = 1.0\n" + zones)
    world.commit_ns = 3 * SECOND  # a card's flush can take seconds
    world.run(62 * SECOND)
    world.commit_ns = 0
    world.run(MINUTE)
    assert (sounded(world, "a"), sounded(world, "b")) == ([(62, 5)], [(67, 5)])


# ── trust ────────────────────────────────────────────────────────────────────────────────────────


def test_without_trust_nothing_rings_and_then_it_is_missed(world_of):
    world = world_of(FIRST)
    world.run(30 * SECOND)
    world.trust(False)
    world.run(2 * MINUTE)
    assert sounded(world) == []
    assert misses(world) == []
    world.trust(True)
    world.run(SECOND)
    assert misses(world) == [("08:30:00", "untrusted")]


def test_trust_that_comes_within_grace_lets_the_ring_through_late(world_of):
    world = world_of(FIRST)
    world.run(30 * SECOND)
    world.trust(False)
    world.run(50 * SECOND)
    world.trust(True)
    world.run(MINUTE)
    assert sounded(world) == [(80, 5)]
    assert misses(world) == []


def test_an_empty_store_begins_at_its_first_trusted_instant(world_of):
    world = world_of(FIRST, '{ at = "08:30:20", zones = ["north"], for = "1s" }', empty_store=True)
    world.trust(False)
    world.crash()  # so that it starts without trust
    world.store.clear()
    world.crash()
    world.run(70 * SECOND)
    world.trust(True)
    world.run(2 * MINUTE)
    assert sounded(world) == [(80, 1)]
    assert misses(world) == [], "what was due before the fence was never due"


# ── the hand ─────────────────────────────────────────────────────────────────────────────────────


def test_a_ring_of_a_lost_hand_that_had_not_begun_goes_to_the_next(world_of):
    world = world_of(FIRST)
    world.run(59_500 * MILLISECOND)
    world.lose_hand()
    world.run(10 * SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == [(69.5, 5)]


def test_rings_of_one_sounding_that_a_lost_hand_never_began_stand_in_the_next_once_each(world_of):
    world = world_of(FIRST, '{ at = "08:30:05", zones = ["north"], for = "3s", says = "Second" }')
    world.run(59_500 * MILLISECOND)
    world.lose_hand()
    world.new_hand()
    world.run(MINUTE)
    (row,) = (row for row in world.soundings() if row.how == "done")
    assert row.rings == ("2026-11-25T08:30:00", "2026-11-25T08:30:05")
    assert row.says == "First / Second"


def test_a_ring_of_a_lost_hand_that_had_begun_is_cut_and_not_given_again(world_of):
    world = world_of(FIRST)
    world.run(62 * SECOND)
    world.lose_hand()
    world.run(SECOND)
    world.new_hand()
    world.run(MINUTE)
    assert sounded(world) == [(60, 2)]
    assert [row.how for row in world.soundings()] == ["cut"]


def test_without_a_hand_a_ring_is_missed_after_grace(world_of):
    world = world_of(FIRST)
    world.lose_hand()
    world.run(2 * MINUTE)
    assert misses(world) == [("08:30:00", "late")]


@pytest.mark.parametrize("grace", [5, 30])
def test_a_ring_that_the_hand_refuses_is_tried_again_until_grace(world_of, grace):
    world = world_of(FIRST, more=f'[clock]\ngrace = "{grace}s"')
    world.lose_hand()
    world.run(MINUTE - 2 * SECOND)
    world.new_hand()
    # a hand that will not have it
    world.rules.take = lambda play, now: Outcome(play.id, "never_began", now, now)
    world.run(2 * MINUTE)
    assert misses(world) == [("08:30:00", "relay")]
    tried = [row for row in world.soundings() if row.how == "void"]
    assert grace - 1 <= len(tried) <= grace + 2, "once a second"
