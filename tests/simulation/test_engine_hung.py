"""The engine's thread stands still: for a moment, or for so long that the hand opens everything."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring

MOMENTS = ["08:29:58.5", "08:29:59.5", "08:30:00.3", "08:30:03", "08:30:20"]


@pytest.mark.parametrize("at", MOMENTS)
def test_for_a_moment_nothing_is_lost(at):
    story = Story(ring("08:30"), ring("08:32"), more=ALTERNATING + SINGLE)
    story.until(at).happens("engine hung", seconds=1.6).until("08:40:30")
    assert story.shows() == ["08:40"]
    assert [seconds for _, seconds in story.sounded()] == [5.0, 5.0]
    story.ends_well()


@pytest.mark.parametrize("at", MOMENTS)
def test_for_longer_the_relays_are_open_after_three_seconds_and_all_comes_right(at):
    story = Story(ring("08:30", 8), ring("08:32"), more=ALTERNATING + SINGLE)
    story.until(at).happens("engine hung", seconds=60).passes(3)
    assert all(not r.coil for relays in story.world.parts.relays.values() for r in relays)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    assert sum(story.ends_well().values()) == 2


def test_the_clock_is_set_meanwhile():
    story = Story(ring("08:30"), ring("08:32"))
    story.until("08:29:59.5").happens("engine hung", seconds=1.6).passes(0.2)
    story.happens("clock stepped", by=-40, back=400, kept=True).until("08:40:30")
    assert story.shows() == ["08:40"]
    story.ends_well()
