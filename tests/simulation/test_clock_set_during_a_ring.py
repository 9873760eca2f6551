"""The system's clock is set while a bell sounds, shortly before, or shortly after."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

BY = [0.3, -0.3, 2, -2, 40, -40, 3600, -3600, 86_400, -86_400]


@pytest.mark.parametrize("by", BY)
@pytest.mark.parametrize("kept", [True, False])
def test_what_has_begun_keeps_its_length_and_is_not_given_again(by, kept):
    story = Story(ring("08:30"))
    story.until("08:30:02").happens("clock stepped", by=by, back=120, kept=kept)
    story.until("08:40:30")
    assert story.sounded()[0][1] >= 5.0, "the same ring of another day may join it"
    story.ends_well()
    assert len([one for one in story.world.judge.given if "11-25" in one[1]]) == 1


@pytest.mark.parametrize("by", BY)
@pytest.mark.parametrize("at", ["08:29:59.1", "08:29:59.6", "08:29:59.99"])
@pytest.mark.parametrize("seed", [1, 2])
def test_what_was_stored_and_not_begun_is_judged_afresh(at, by, seed):
    story = Story(ring("08:30"), seed=seed)
    story.until(at).happens("clock stepped", by=by, back=300, kept=True)
    story.until("08:40:30")
    counts = story.ends_well()
    assert counts["given"] + counts["missed"] == 1


@pytest.mark.parametrize("by", [-40, -3600])
def test_what_the_clock_comes_to_again_is_not_given_again(by):
    story = Story(ring("08:30"))
    story.until("08:30:10").happens("clock stepped", by=by, back=7200, kept=True)
    story.until("10:00")
    assert len(story.sounded()) == 1
    story.ends_well()
