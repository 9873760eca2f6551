"""The hand's process is gone. Its relays stay as they were until `release`, 2 s at most."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring

MOMENTS = ["08:29:59.2", "08:29:59.9", "08:30:00.3", "08:30:01.5", "08:30:03", "08:30:20"]


@pytest.mark.parametrize("at", MOMENTS)
@pytest.mark.parametrize("released", [0, 1.9])
@pytest.mark.parametrize("restart", [3, 40])
def test_a_ring_is_cut_and_stays_cut_and_an_impulse_is_given_again(at, released, restart):
    story = Story(ring("08:30"), ring("08:32"), more=ALTERNATING + SINGLE)
    story.until(at).happens("hand killed", released=released, restart=restart)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    assert story.sounded()[-1] == ("08:32:00", 5.0)
    assert sum(story.ends_well().values()) == 2


@pytest.mark.parametrize("at", MOMENTS)
def test_and_the_next_hand_as_well(at):
    story = Story(ring("08:30"), more=ALTERNATING + SINGLE)
    story.until(at).happens("hand killed", released=0.5, restart=1)
    story.passes(1.2).happens("hand killed", released=1.9, restart=3)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    story.ends_well()
