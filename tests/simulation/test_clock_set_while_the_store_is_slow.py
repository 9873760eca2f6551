"""The clock is set when what was due has not begun because its commit takes so long."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring

from controller.engine.wishes import RingByHand


def slow(*rings: str, more: str = ALTERNATING) -> Story:
    story = Story(*rings, more=more)
    story.until("08:25").happens("commits slow", seconds=900, each=2.6)
    return story.until("08:30:00.2")


@pytest.mark.parametrize("by", [-3600, -40])
def test_the_ring_is_taken_back_and_judged_by_the_new_time(by):
    story = slow(ring("08:30"))
    story.happens("clock stepped", by=by, back=7200, kept=True).until("08:30:10")
    assert story.sounded() == []
    story.until("09:40")
    counts = story.ends_well()
    assert counts["given"] + counts["missed"] == 1


@pytest.mark.parametrize("by", [-3600, 3600])
def test_and_not_rung_by_a_clock_that_nobody_trusts(by):
    story = slow(ring("08:30"))
    story.world.set_clock(round(by * 1e9), synced=False)
    story.until("08:40")
    assert story.sounded() == []
    story.ends_well()


@pytest.mark.parametrize("more", [ALTERNATING, SINGLE])
@pytest.mark.parametrize("by", [-3600, 3600])
def test_the_impulse_is_taken_back(more, by):
    story = slow(more=more)
    line = "main" if more == ALTERNATING else "yard"
    story.world.set_clock(round(by * 1e9), synced=False)
    story.until("08:40")
    assert story.impulses(line, since="08:30:00") == []
    story.ends_well()


def test_what_has_begun_goes_on_and_a_ring_by_hand_joins_it():
    story = Story(ring("08:30"))
    story.until("08:30:02").happens("clock stepped", by=-2, back=60, kept=True)
    story.passes(1).order(RingByHand(("north",), 4_000_000_000))
    story.until("08:31")
    assert story.sounded() == [("08:30:00", 7.05)], "it joins as soon as the hand can be told"
    story.ends_well()
