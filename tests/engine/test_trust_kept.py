"""Who once vouched for the clock did so for a run of the machine (design rules 15 and 16)."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND
from told import misses, sounded

from controller.engine.records import EraRow

FIRST = '{ at = "08:30", zones = ["north"], for = "5s" }'
LATER = '{ at = "08:33", zones = ["north"], for = "5s" }'
DAY = 24 * 60 * MINUTE
YEAR = 365 * DAY


def lost(world):
    """The time servers are gone."""
    world.trusted = False
    return world


def test_losing_the_time_servers_stops_nothing(world_of):
    world = world_of(FIRST)
    world.run(10 * SECOND)
    lost(world).run(10 * MINUTE)
    assert sounded(world) == [(60, 5)]
    assert world.shows() == {world.true()}
    assert world.well


def test_a_restart_of_the_daemon_meanwhile_stops_nothing_either(world_of):
    world = world_of(FIRST)
    world.run(10 * SECOND)
    lost(world).crash()
    world.run(10 * MINUTE)
    assert sounded(world) == [(60, 5)]


def test_another_run_of_the_machine_asks_anew(world_of):
    world = world_of(LATER)
    world.run(10 * SECOND)
    lost(world).power_cut(10 * SECOND)
    world.run(10 * MINUTE)
    assert sounded(world) == []
    assert world.shows() == {509}


@pytest.mark.parametrize("by_ms", [-3_600_000, -700, 700, 60_000])
def test_a_step_of_the_clock_that_nobody_keeps_ends_it(world_of, by_ms):
    world = world_of(LATER)
    world.run(10 * SECOND)
    lost(world).shift += by_ms * MILLISECOND
    world.run(10 * MINUTE)
    assert sounded(world) == []
    world.shift = 0
    world.trust(True)
    world.run(30 * SECOND)
    assert world.shows() == {world.true()}


# ── eras ─────────────────────────────────────────────────────────────────────────────────────────


def eras(world) -> list[EraRow]:
    return [row for row in world.store.values() if isinstance(row, EraRow)]


@pytest.mark.parametrize("restarts", [False, True])
def test_what_a_clock_a_year_ahead_gave_bars_nothing_a_year_later(world_of, restarts):
    world = world_of(FIRST)
    world.shift += 52 * 7 * DAY  # an RTC gone wrong, on a Wednesday of next year
    world.run(2 * MINUTE)
    wrong = list(world.given())
    assert wrong, "it rang what the wrong clock said"
    world.shift = 0
    world.run(SECOND)
    assert len(eras(world)) == 1
    if restarts:
        world.crash()
    world.t += 52 * 7 * DAY - 10 * MINUTE
    world.crash()  # as a start a year later, just before the same ring
    world.run(11 * MINUTE)
    again = [one for one in world.given() if one in wrong]
    assert len(again) == 2 * len(wrong), "given once by the wrong clock, and once rightly"


def test_a_clock_set_back_by_a_day_begins_no_era(world_of):
    world = world_of(FIRST)
    world.run(2 * MINUTE)
    world.shift -= DAY
    world.run(2 * MINUTE)
    assert eras(world) == []
    world.shift = 0
    world.run(2 * MINUTE)
    assert len(sounded(world)) == 1, "and nothing is given twice"
    assert misses(world) == []
