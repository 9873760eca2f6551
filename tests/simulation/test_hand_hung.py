"""The hand does nothing any more; within 4 s it is killed and its relays are released."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring


@pytest.mark.parametrize("at", ["08:29:59.2", "08:29:59.9", "08:30:00.3", "08:30:03", "08:30:20"])
@pytest.mark.parametrize("released", [0.7, 3.9])
def test_dials_are_right_and_nothing_rings_twice(at, released):
    story = Story(ring("08:30"), ring("08:32"), more=ALTERNATING + SINGLE)
    story.until(at).happens("hand hung", released=released)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    assert story.sounded()[-1] == ("08:32:00", 5.0)
    assert sum(story.ends_well().values()) == 2
