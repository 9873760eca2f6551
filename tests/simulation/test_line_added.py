"""A line is added to the file: a new hand takes the pins at rest, and the line is unread."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring, text_of

MORE = text_of([ring("08:30"), ring("09:30")], ALTERNATING + SINGLE, "America/Halifax")


@pytest.mark.parametrize("at", ["08:29:30", "08:29:59.5", "08:30:00.5", "08:30:02"])
def test_the_others_miss_nothing_and_the_new_one_waits_to_be_read(at):
    story = Story(ring("08:30"), ring("09:30"), others=[MORE])
    story.until(at).happens("file changed", number=1).until("08:45:30")
    assert story.shows() == ["08:45"]
    assert story.sounded() == [("08:30:00", 5.0)]
    assert not story.row("yard").read
    assert story.impulses("yard") == []
    story.happens("hold, read, set", line="yard").until("09:45:30")
    assert not story.row("yard").doubtful
    story.ends_well()


def test_the_hand_dies_as_it_is_changed():
    story = Story(ring("08:30"), others=[MORE])
    story.until("08:29:30").happens("file changed", number=1)
    story.passes(0.5).happens("hand killed").until("08:45:30")
    assert story.shows() == ["08:45"]
    story.ends_well()
