"""Somebody sets the clock while no time server keeps it: nobody vouches for it any more."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

BY = [2, -2, 40, -40, 3600, -3600, 86_400, -86_400]


@pytest.mark.parametrize("by", BY)
def test_bells_and_dials_stand_until_somebody_vouches_for_it(by):
    story = Story(ring("08:40"), ring("10:00"))
    story.until("08:20").happens("synchronisation lost", seconds=5000, drift=0)
    story.until("08:30:30").world.set_clock(round(by * 1e9), synced=False)
    story.until("08:45")
    assert story.sounded() == []
    assert story.impulses(since="08:30:31") == []
    story.until("10:05:30")
    assert story.sounded() == [("10:00:00", 5.0)]
    story.ends_well()


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("at", ["08:30:00.5", "08:30:30", "08:39:59.5", "08:40:02"])
def test_setting_it_by_hand_takes_the_time_servers_word_back_at_once(at, seed):
    """A word that was asked for a second ago must not make the new time a trusted one."""
    story = Story(ring("08:40"), ring("08:42"), seed=seed)
    story.until(at).world.set_clock(round(3600e9), synced=False)
    story.passes(3).until("08:45")
    assert not story.world.judge.trusted
    assert all(at < "08:42" for at, _ in story.sounded())
    story.ends_well()


@pytest.mark.parametrize(("by", "at"), [(0.3, "08:39:59.700"), (-0.3, "08:40:00.300")])
def test_three_tenths_of_a_second_are_no_jump(by, at):
    story = Story(ring("08:40"))
    story.until("08:20").happens("synchronisation lost", seconds=5000, drift=0)
    story.until("08:30:30").world.set_clock(round(by * 1e9), synced=False)
    story.until("08:41")
    assert story.sounded() == [(at, 5.0)]
    story.ends_well()
