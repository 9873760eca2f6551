"""`longest` ends a sounding before its last ring; the daemon dies before that ring is settled."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring


@pytest.mark.parametrize("at", ["08:30:04", "08:30:09.2", "08:30:09.7", "08:30:09.95"])
@pytest.mark.parametrize("restart", [0.5, 3])
def test_it_is_accounted_for(at, restart):
    """Another zone's ring is stored meanwhile, when what is due within `lead` has entered."""
    story = Story(ring("08:30", 10), ring("08:30:10"), ring("08:30:10", 5, "south"))
    story.until(at).happens("daemon killed", restart=restart).until("08:31")
    counts = story.ends_well()
    assert sum(counts.values()) == 3
    assert counts["given"] >= 2
