"""All power goes while an impulse is given: did the dials take it?"""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story


@pytest.mark.parametrize("into", [0.05, 0.29, 0.4, 0.6, 0.8, 0.99])
def test_an_alternating_line_gives_it_again_and_is_right_whoever_took_it(into):
    story = Story(more=ALTERNATING)
    story.until("08:29:59").passes(1 + into)
    story.happens("power cut", seconds=3)
    story.until("08:30:10")
    took = {dial > 509 for dial in story.world.judge.lines["main"].look()[0]}
    assert took == ({False} if into < 0.3 else {True} if into >= 0.7 else {True, False})
    story.until("08:32:30")
    (first, its), (again, same) = story.impulses(since="08:30:00")[:2]
    assert (first, its) == ("08:30:00", same)
    assert again > "08:30:23", "as soon as the daemon runs"
    assert story.shows() == ["08:32"]
    story.ends_well()


@pytest.mark.parametrize("into", [0.05, 0.4, 0.6, 0.99])
def test_on_a_single_line_it_counts_as_taken_and_the_line_is_doubtful(into):
    story = Story(more=SINGLE)
    story.until("08:29:59").passes(1 + into)
    story.happens("power cut", seconds=3)
    story.until("08:31:30")
    assert story.row("yard").doubtful
    assert len(story.impulses("yard", since="08:30:00")) == 2, "it is not given again"
    story.ends_well()


def test_it_is_cut_and_the_repeat_is_cut_and_the_next_one_too():
    story = Story(more=ALTERNATING)
    story.until("08:30:00.4").happens("power cut", seconds=1)
    for _ in range(3):
        story.passes(21 + 1.4)
        story.happens("power cut", seconds=1)
    story.passes(60)
    polarities = [polarity for _, polarity in story.impulses(since="08:30:00")]
    assert len(set(polarities[:5])) == 1, "always the same polarity until it was given whole"
    story.ends_well()
    assert story.exempt == 0
