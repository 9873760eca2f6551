"""All power goes when an impulse or a ring is stored and not given, or its commit is under way."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

BEFORE = [0.999, 0.97, 0.6, 0.2, 0.001]  # s before the full minute; stored a second ahead


@pytest.mark.parametrize("before", BEFORE)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_impulse_reaches_the_dials_once_whether_or_not_it_was_stored(before, seed):
    story = Story(ring("08:30"), seed=seed)
    story.until("08:29:00").passes(60 - before)
    story.happens("power cut", seconds=2)
    story.until("08:33:30")
    assert story.shows() == ["08:33"]
    story.ends_well()


@pytest.mark.parametrize("before", BEFORE)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_ring_is_not_given_late_after_the_boot_and_its_end_is_told(before, seed):
    story = Story(ring("08:30"), seed=seed)
    story.until("08:29:00").passes(60 - before)
    story.happens("power cut", seconds=2, boot=15)
    story.until("08:33:30")
    assert story.sounded() == []
    counts = story.ends_well()
    assert counts["cut"] + counts["missed"] == 1
