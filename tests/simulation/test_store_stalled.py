"""A commit takes seconds, many seconds, or the disk does not answer at all for a while."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring


@pytest.mark.parametrize("before", [1.5, 1.05, 0.9])
def test_for_20_s_as_a_ring_is_due_it_rings_after_three_and_it_is_said(before):
    story = Story(ring("08:30:30"))
    story.until("08:30:00").passes(30 - before)
    story.happens("store stalled", seconds=20)
    story.until("08:30:40")
    ((at, seconds),) = story.sounded()
    assert ("08:30:30" <= at <= "08:30:33") is True
    assert seconds == 5.0
    story.until("08:31:30")
    assert story.shows() == ["08:31"]
    story.ends_well()


@pytest.mark.parametrize("seconds", [0.5, 2, 5, 20, 61])
@pytest.mark.parametrize("end", ["daemon killed", "hand killed", "clock back", "clock on"])
def test_it_stalls_and_something_else_strikes(seconds, end):
    story = Story(ring("08:30"), ring("08:31"))
    story.until("08:29:58.9").happens("store stalled", seconds=seconds)
    story.passes(1.5)
    if end.startswith("clock"):
        story.happens("clock stepped", by=-2 if end == "clock back" else 2, back=300, kept=True)
    else:
        story.happens(end)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    assert sum(story.ends_well().values()) == 2


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_stalls_and_the_power_goes(seed):
    story = Story(ring("08:30"), seed=seed)
    story.until("08:29:58.5").happens("store stalled", seconds=20)
    story.until("08:30:05").happens("power cut", seconds=2, boot=15)
    story.until("08:31:30")
    assert len(story.sounded()) <= 1
    assert story.exempt <= 1
    story.ends_well()
