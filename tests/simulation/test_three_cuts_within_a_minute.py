"""The power comes and goes: three cuts within a minute, each before the daemon has settled."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring


@pytest.mark.parametrize("second", [18, 22.4, 23.05, 24, 30])
@pytest.mark.parametrize("at", ["08:29:59.3", "08:30:00.5", "08:30:20"])
def test_dials_are_right_and_nothing_rings_twice(at, second):
    story = Story(ring("08:30"), ring("08:31"), more=ALTERNATING + SINGLE)
    story.until(at)
    story.happens("three cuts in a minute", first=second, second=second + 27)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    assert len(story.sounded()) <= 2
    assert sum(story.ends_well().values()) == 2
