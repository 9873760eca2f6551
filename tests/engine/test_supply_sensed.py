"""The 24 V goes and comes back, and is sensed: dials stay right, rings wait or are missed."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld
from told import misses, sounded

from controller.engine.contract import SupplyMoved
from controller.engine.records import MissRow
from controller.engine.wishes import RingByHand, StepLine

NORTH = ("north",)
FIRST = '{ at = "08:30", zones = ["north"], for = "5s", says = "First" }'


def impulses(world: SmallWorld, line: str = "main") -> list[tuple[float, str]]:
    """(seconds from 08:29, polarity) of each impulse."""
    boot = world.mono_zero + 1_000 * SECOND
    return [
        (round((a - boot) / SECOND, 3), "+-"[relay])
        for circuit, relay, a, _ in world.closings
        if circuit == f"lines.{line}"
    ]


def away(world: SmallWorld, at_ms: int, until_ms: int) -> None:
    """Take the supply away from `at_ms` after 08:29 until `until_ms` after it."""
    start = world.mono_zero + 1_000 * SECOND
    world.run(start + at_ms * MILLISECOND - world.t)
    world.supply(False)
    world.run(start + until_ms * MILLISECOND - world.t)
    world.supply(True)


def supply_moved(world: SmallWorld, there: bool, earlier_ms: int) -> SupplyMoved:
    return SupplyMoved(there, world.mono - earlier_ms * MILLISECOND)


# ── alternating lines ────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("at_ms", "until_ms"),
    [(59_900, 60_100), (60_000, 60_300), (60_200, 60_800), (60_600, 61_500), (60_000, 61_000)],
    ids=["as it begins", "at first", "in the middle", "at last", "throughout"],
)
def test_an_impulse_during_which_it_was_away_is_given_again_whole(world_of, at_ms, until_ms):
    world = world_of()
    away(world, at_ms, until_ms)
    world.run(20 * SECOND)
    assert {polarity for _, polarity in impulses(world)} == {"+"}, "of the same polarity"
    assert world.shows() == {510} == {world.line().shown}
    assert not world.line().doubtful
    world.run(MINUTE)
    assert impulses(world)[-1] == (120, "-")
    assert world.shows() == {511}


@pytest.mark.parametrize(
    ("at_ms", "until_ms"), [(10_000, 30_000), (59_300, 59_900), (61_100, 119_000)]
)
def test_away_between_impulses_nothing_is_given_again(world_of, at_ms, until_ms):
    """Also where its impulse was sent already, and taken back."""
    world = world_of()
    away(world, at_ms, until_ms)
    world.run(150 * SECOND - world.mono + 1_000 * SECOND)
    assert impulses(world) == [(60, "+"), (120, "-")]
    assert impulses(world, "yard") == [(60, "+"), (120, "+")]
    assert world.shows() == world.shows("yard") == {511}


def test_while_it_is_away_lines_stand_and_come_right_after(world_of):
    world = world_of()
    away(world, 30_000, 10 * 60_000)
    assert impulses(world) == []
    assert world.shows() == {509}
    world.run(50 * SECOND)
    assert world.shows() == {world.true()}
    assert world.shows("yard") == {world.true("yard")}
    assert not world.line("yard").doubtful


def test_away_when_a_crash_ends_the_impulse_it_is_given_again(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.supply(False)
    world.crash()
    world.run(MINUTE)
    assert len(impulses(world)) == 1, "the new hand reads that it is away"
    world.supply(True)
    world.run(30 * SECOND)
    assert world.shows() == {world.true()}


def test_the_logbook_is_not_filled_by_one_that_comes_and_goes_in_every_impulse(world_of):
    world = world_of()
    world.run(60 * SECOND)
    for _ in range(200):
        world.supply(False)
        world.run(100 * MILLISECOND)
        world.supply(True)
        world.run(700 * MILLISECOND)
    assert len(world.notes()) < 25
    assert world.shows() <= {509, 510}
    world.run(5 * MINUTE)
    assert world.shows() == {world.true()}


# ── single lines ─────────────────────────────────────────────────────────────────────────────────


def test_on_a_single_line_one_that_it_was_away_throughout_is_not_taken(world_of):
    """Told ahead, and the supply gone in the instant before: the hand began it all the same."""
    world = world_of()
    world.run(60 * SECOND)  # begun
    world.premises.live.clear()  # but the 24 V was gone already
    world.premises.supply_there = False
    world.inputs.append(supply_moved(world, False, 5))
    world.settle()
    world.run(2 * SECOND)
    row = world.line("yard")
    assert (row.shown, row.doubtful, row.step) == (509, False, None)
    assert ": yard: an impulse was not taken: the supply was away" in world.notes()
    world.supply(True)
    world.run(10 * SECOND)
    assert world.shows("yard") == {510} == {world.line("yard").shown}
    assert not world.line("yard").doubtful


@pytest.mark.parametrize(("at_ms", "until_ms"), [(60_100, 60_300), (60_800, 61_300)])
def test_on_a_single_line_one_that_it_was_away_in_part_is_taken_and_doubtful(
    world_of, at_ms, until_ms
):
    world = world_of()
    away(world, at_ms, until_ms)
    world.run(10 * SECOND)
    row = world.line("yard")
    assert (row.shown, row.doubtful, row.step) == (510, True, None)
    assert len(impulses(world, "yard")) == 1, "never given again"


def test_on_a_single_line_a_step_that_was_not_taken_is_owed_still(world_of):
    world = world_of()
    world.run(10 * SECOND)
    world.order(StepLine("yard", 1))
    world.premises.live.clear()
    world.premises.supply_there = False
    world.inputs.append(supply_moved(world, False, 5))
    world.settle()
    world.run(5 * SECOND)
    assert world.shows("yard") == {509}
    world.supply(True)
    world.run(5 * SECOND)
    assert world.shows("yard") == {510}
    assert world.line("yard").shown == 509


# ── rings ────────────────────────────────────────────────────────────────────────────────────────


def test_rings_due_while_it_is_away_wait_within_grace_in_order(world_of):
    shared = "[supply]\namps = 1.0\n" + "".join(
        f"[zones.{name}]\nrelay = {pin}\nbells = 1\namps_each = 0.6\n"
        for name, pin in (("a", 5), ("b", 6), ("c", 12))
    )
    world = world_of(
        '{ at = "08:30", zones = ["b"], for = "3s" }',
        '{ at = "08:30:02", zones = ["a"], for = "3s" }',
        '{ at = "08:30:04", zones = ["c"], for = "3s" }',
        more=shared,
    )
    away(world, 55_000, 70_000)
    world.run(MINUTE)
    assert [sounded(world, zone) for zone in "bac"] == [[(70, 3)], [(73, 3)], [(76, 3)]]
    assert misses(world) == []


def test_past_grace_they_are_missed_and_the_supply_is_why(world_of):
    world = world_of(FIRST, '{ at = "08:30:20", zones = ["south"], for = "2s" }')
    away(world, 55_000, 95_000)
    world.run(MINUTE)
    assert sounded(world) == []
    assert sounded(world, "south") == [(95, 2)]
    (row,) = [row for row in world.store.values() if isinstance(row, MissRow)]
    assert (row.zone, row.written[11:], row.why) == ("north", "08:30:00", "supply")


def test_a_ring_by_hand_waits_too_and_says_so(world_of):
    world = world_of()
    world.supply(False)
    answer = world.said(RingByHand(NORTH, 3 * SECOND))
    assert answer.ok
    assert "the supply is away" in answer.text
    world.run(10 * SECOND)
    world.supply(True)
    world.run(MINUTE)
    assert sounded(world) == [(10, 3)]


def test_a_ring_by_hand_is_dropped_past_grace_and_it_is_noted(world_of):
    world = world_of()
    world.supply(False)
    world.order(RingByHand(NORTH, 3 * SECOND))
    world.run(40 * SECOND)
    world.supply(True)
    world.run(MINUTE)
    assert sounded(world) == []
    assert "keeper: ring of north by hand not given: supply" in world.notes()


@pytest.mark.parametrize("back_ms", [59_800, 63_000])
def test_gone_while_a_play_is_sent_and_not_begun_it_is_taken_back_and_rings_after(
    world_of, back_ms
):
    world = world_of(FIRST)
    away(world, 59_500, back_ms)
    world.run(MINUTE)
    assert sounded(world) == [(max(60, back_ms / 1000), 5)]
    assert world.given() == [("north", "2026-11-25T08:30:00")]
    assert misses(world) == []


def test_gone_while_a_play_waits_for_a_slow_store_it_rings_after(world_of):
    world = world_of(FIRST)
    world.run(58 * SECOND)
    world.commit_ns = 4 * SECOND
    away(world, 61_000, 68_000)
    world.commit_ns = 0
    world.run(MINUTE)
    (ring,) = sounded(world)
    assert ring[0] >= 68
    assert ring[1] == 5
    assert world.given() == [("north", "2026-11-25T08:30:00")]


def test_gone_while_it_sounds_the_ring_is_cut_and_not_given_again(world_of):
    world = world_of(FIRST)
    away(world, 62_000, 63_000)
    world.run(MINUTE)
    assert len(sounded(world)) == 1
    assert [row.how for row in world.soundings()] == ["cut"]
    assert world.given() == [("north", "2026-11-25T08:30:00")]


# ── many times, and at the start ─────────────────────────────────────────────────────────────────


def test_it_goes_and_returns_many_times_and_all_comes_right(world_of):
    world = world_of(FIRST)
    world.run(50 * SECOND)
    for number in range(300):
        world.supply(False)
        world.run((30 + number % 70) * MILLISECOND)
        world.supply(True)
        world.run((50 + number % 110) * MILLISECOND)
    assert len(world.notes()) < 25, "the logbook is not filled by it"
    assert len(world.batches) < 250, "nor the card worn"
    assert len(world.state.supply_lost) < 300
    world.run(5 * MINUTE)
    assert world.shows() == {world.true()}
    assert world.shows("yard") == {world.true("yard")} or world.line("yard").doubtful
    assert len(world.state.supply_lost) <= 1


def test_what_is_remembered_of_it_is_bounded_even_within_one_sounding(world_of):
    world = world_of('{ at = "08:30", zones = ["north"], for = "10s" }')
    world.run(61 * SECOND)
    for _ in range(800):
        world.supply(False)
        world.run(5 * MILLISECOND)
        world.supply(True)
        world.run(5 * MILLISECOND)
    assert len(world.state.supply_lost) <= 201
    world.run(10 * SECOND)
    assert [row.how for row in world.soundings()] == ["cut"]


def test_away_when_the_hand_is_ready_lines_stand_and_rings_wait(world_of):
    world = world_of(FIRST)
    world.lose_hand()
    world.supply(False)
    world.run(59 * SECOND)
    world.new_hand()
    world.run(10 * SECOND)
    assert world.closings == []
    assert world.faults() == {"supply": True}
    assert not world.well
    world.supply(True)
    world.run(10 * SECOND)
    assert sounded(world) == [(69, 5)]
    assert world.shows() == {510}
    assert world.faults() == {"supply": False}
    assert world.well


def test_a_daemon_that_starts_while_it_is_away_lists_it_as_one_fault(world_of):
    world = world_of()
    world.supply(False)
    world.run(10 * SECOND)
    since = world.state.faults["supply"].since
    for _ in range(3):
        world.crash()
        world.run(10 * SECOND)
    assert world.faults() == {"supply": True}
    assert world.state.faults["supply"].since == since
    assert sum("fault" in note for note in world.notes()) == 1


def test_back_while_there_was_no_hand_it_is_used_as_the_next_one_reads_it(world_of):
    world = world_of()
    world.supply(False)
    world.lose_hand()
    world.supply(True)
    world.run(10 * SECOND)
    assert not world.well
    world.new_hand()
    assert world.well
    world.run(MINUTE)
    assert world.shows() == {world.true()}


def test_the_same_word_twice_changes_nothing(world_of):
    world = world_of()
    for there in (False, True):
        world.supply(there)
        before = world.state
        world.put(supply_moved(world, there, 0))
        assert world.state == before
