"""A ring is stored; the clock is set away by hand before it begins; the daemon starts anew."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring


@pytest.mark.parametrize("by", [-86_400, -3600, 3600, 86_400])
@pytest.mark.parametrize("end", ["daemon killed", "hand killed", "daemon restarted", "power cut"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_when_the_clock_is_right_again_the_ring_is_accounted_for(by, end, seed):
    story = Story(ring("08:30"), ring("08:50"), ring("09:50"), seed=seed)
    story.until("08:29:59.6").world.set_clock(round(by * 1e9), synced=False)
    story.passes(3)
    story.happens(end, **({"seconds": 1, "sync": None} if end == "power cut" else {}))
    story.until("09:00").world.synchronise()
    story.until("09:51")
    assert story.sounded()[-1] == ("09:50:00", 5.0)
    assert sum(story.ends_well().values()) == 3
