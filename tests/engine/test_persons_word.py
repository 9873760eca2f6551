"""A person's word that the clock is right: until the machine starts again or the clock jumps."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld
from told import misses, sounded

from controller.engine.wishes import TrustClock

FIRST = '{ at = "08:30", zones = ["north"], for = "5s" }'
LATER = '{ at = "08:33", zones = ["north"], for = "5s" }'
VOID = ": the clock jumped while nobody kept it: it is not trusted any more"


def untrusted(world: SmallWorld) -> SmallWorld:
    """The same world, whose clock nobody keeps."""
    world.trust(False)
    return world


def goes_by_it(world: SmallWorld) -> bool:
    """Whether dials go by the clock: a minute later they show one more."""
    before = world.shows()
    world.run(65 * SECOND)
    return world.shows() != before


def test_it_starts_bells_and_dials(world_of):
    world = untrusted(world_of(FIRST))
    world.run(30 * SECOND)
    answer = world.said(TrustClock())
    assert answer.ok
    assert "It says Wednesday 25 November 2026, 08:29:30" in answer.text
    assert "until the machine starts again or the clock jumps" in answer.text
    world.run(45 * SECOND)
    assert sounded(world) == [(60, 5)]
    assert world.shows() == {510}
    assert world.well


def test_it_starts_dials_that_had_stood(world_of):
    world = untrusted(world_of())
    world.run(10 * MINUTE + 30 * SECOND)
    assert world.shows() == {509}
    world.order(TrustClock())
    world.run(25 * SECOND)
    assert world.shows() == {world.true()}


def test_where_the_clock_is_trusted_already_it_changes_nothing(world_of):
    world = world_of()
    world.run(10 * SECOND)
    assert "trusted already" in world.said(TrustClock()).text
    world.trust(False)
    assert not goes_by_it(world)


def test_it_can_be_given_again(world_of):
    world = untrusted(world_of())
    for _ in range(2):
        assert world.said(TrustClock()).ok
    assert goes_by_it(world)


# ── how long ─────────────────────────────────────────────────────────────────────────────────────


def test_it_survives_a_restart_of_the_daemon_within_the_same_boot(world_of):
    world = untrusted(world_of(FIRST))
    world.order(TrustClock())
    world.run(20 * SECOND)
    world.crash()
    world.run(55 * SECOND)
    assert sounded(world) == [(60, 5)]
    assert world.shows() == {510}


def test_it_does_not_survive_a_boot(world_of):
    world = untrusted(world_of(LATER))
    world.order(TrustClock())
    world.run(20 * SECOND)
    world.power_cut(30 * SECOND)
    world.run(10 * MINUTE)
    assert sounded(world) == []
    assert world.shows() == {509}
    assert not world.well


@pytest.mark.parametrize("by_ms", [-3_600_000, -700, 700, 60_000])
def test_it_ends_when_the_clock_jumps_while_not_synchronised(world_of, by_ms):
    world = untrusted(world_of(LATER))
    world.order(TrustClock())
    world.run(20 * SECOND)
    world.shift += by_ms * MILLISECOND
    world.run(10 * MINUTE)
    assert VOID in world.notes()
    assert sounded(world) == []
    assert world.shows() == {509}


def test_once_ended_it_does_not_come_back_with_a_restart(world_of):
    world = untrusted(world_of())
    world.order(TrustClock())
    world.shift += 10 * SECOND
    world.run(SECOND)
    world.crash()
    assert not goes_by_it(world)


@pytest.mark.parametrize("by_ms", [-40, 40])
def test_two_readings_that_something_came_between_are_no_jump(world_of, by_ms):
    world = untrusted(world_of())
    world.order(TrustClock())
    world.shift += by_ms * MILLISECOND
    assert goes_by_it(world)


def test_it_ends_when_the_clock_jumps_in_the_daemon_s_absence(world_of):
    world = untrusted(world_of())
    world.order(TrustClock())
    world.run(20 * SECOND)
    world.shift += 5 * MINUTE
    world.crash()
    assert not goes_by_it(world)
    assert VOID in world.notes()


def test_it_holds_when_the_clock_jumps_while_it_is_synchronised(world_of):
    world = untrusted(world_of())
    world.order(TrustClock())
    world.run(10 * SECOND)
    world.trust(True)
    world.shift += 2 * MINUTE
    world.run(10 * SECOND)
    world.trusted = False
    assert goes_by_it(world)
    assert VOID not in world.notes()


def test_it_holds_when_a_synchronised_clock_jumps_in_the_daemon_s_absence(world_of):
    world = untrusted(world_of())
    world.order(TrustClock())
    world.run(10 * SECOND)
    world.trusted = True
    world.shift += 2 * MINUTE
    world.crash()
    world.run(20 * SECOND)
    world.trusted = False
    assert goes_by_it(world)


def test_a_jump_as_synchronising_is_lost_ends_it(world_of):
    world = untrusted(world_of())
    world.order(TrustClock())
    world.trust(True)
    world.run(10 * SECOND)
    world.trusted = False
    world.shift += 2 * MINUTE
    assert not goes_by_it(world)


def test_a_jump_that_nobody_saw_while_batches_came_back_from_the_store_ends_it(world_of):
    """The store's word alone is no look at the clock."""
    world = untrusted(world_of())
    world.commit_ns = 3 * SECOND
    world.order(TrustClock())
    world.shift += MINUTE
    world.run(10 * SECOND)
    world.run(5 * MINUTE)
    assert world.shows() == {509}


# ── the fence ────────────────────────────────────────────────────────────────────────────────────


def test_an_empty_store_begins_at_the_instant_of_the_word(world_of):
    world = world_of(FIRST, '{ at = "08:30:20", zones = ["north"], for = "1s" }', empty_store=True)
    world.trust(False)
    world.store.clear()
    world.crash()
    world.run(70 * SECOND)
    world.order(TrustClock())
    world.run(2 * MINUTE)
    assert sounded(world) == [(80, 1)]
    assert misses(world) == [], "what was due before the fence was never due"


def test_after_a_boot_what_was_due_before_the_start_is_off_and_what_came_then_untrusted(world_of):
    world = world_of(
        FIRST,
        '{ at = "08:31", zones = ["north"], for = "5s" }',
        LATER,
        '{ at = "08:34:50", zones = ["north"], for = "5s" }',
        '{ at = "08:36", zones = ["north"], for = "5s" }',
    )
    world.trusted = False
    world.run(10 * SECOND)
    world.power_cut(110 * SECOND)  # until 08:31
    world.run(4 * MINUTE)
    world.order(TrustClock())
    world.run(2 * MINUTE)
    assert misses(world) == [
        ("08:30:00", "off"),
        ("08:31:00", "untrusted"),
        ("08:33:00", "untrusted"),
    ]
    assert sounded(world) == [(360, 5), (420, 5)]


def test_a_clock_that_was_never_trusted_is_a_fault_after_five_minutes_and_the_word_ends_it(
    world_of,
):
    world = untrusted(world_of())
    world.run(5 * MINUTE - SECOND)
    assert world.faults() == {}
    assert not world.well
    world.run(2 * SECOND)
    assert world.faults() == {"clock": True}
    world.order(TrustClock())
    assert world.faults() == {"clock": False}
    assert world.well
