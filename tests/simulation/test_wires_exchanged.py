"""Somebody exchanges the two wires of a line that is held, and says so."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SUPPLY, Story


@pytest.mark.parametrize("strike", ["", "daemon killed", "power cut", "store stalled"])
@pytest.mark.parametrize("owed", [False, True])
def test_the_dials_go_on_and_are_right(strike, owed):
    story = Story(more=SUPPLY + ALTERNATING)
    story.until("08:30:00.4")
    if owed:  # an impulse was cut for want of the 24 V
        story.happens("24 V gone", seconds=120)
    story.until("08:31:10").happens("wires exchanged", line="main", seconds=600)
    if strike:
        story.until("08:31:20")
        how = {"power cut": {"seconds": 1}, "store stalled": {"seconds": 20}}
        story.happens(strike, **how.get(strike, {}))
    story.until("08:45:30")
    assert story.row().held is False
    assert story.shows() == ["08:45"]
    story.ends_well()
