"""A clock was a little ahead, and gave a ring; then far ahead; and is right again."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

AHEAD = 40 * 60 * 10**9
FAR_AHEAD = 3 * 86_400 * 10**9


@pytest.mark.parametrize("end", ["", "daemon killed", "daemon restarted"])
def test_what_was_given_before_its_time_is_not_given_again_when_it_comes(end):
    story = Story(ring("09:00"), ring("09:10"))
    story.until("08:19:30").world.set_clock(AHEAD, synced=True)
    story.until("08:22").world.set_clock(FAR_AHEAD, synced=True)
    story.until("08:24").world.set_clock(0, synced=True)
    story.until("08:26")
    if end:
        story.happens(end)
    story.until("09:20")
    assert story.sounded() == [("08:20:00", 5.0), ("09:10:00", 5.0)], "by the right time"
