"""An impulse was cut for want of the 24 V and is owed; somebody holds the line meanwhile."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SUPPLY, Story


@pytest.mark.parametrize("strike", ["", "daemon killed", "power cut"])
def test_a_held_line_gives_not_even_what_it_owes_and_gives_it_first_when_it_goes(strike):
    story = Story(more=SUPPLY + ALTERNATING)
    story.until("08:30:00.4").happens("24 V gone", seconds=60)
    story.until("08:30:20").happens("hold and go", line="main", seconds=600)
    story.until("08:30:30")
    if strike:
        story.happens(strike, **({"seconds": 1} if strike == "power cut" else {}))
    story.until("08:40")
    assert story.row().held
    assert story.impulses(since="08:30:05") == []
    story.until("08:45:30")
    (cut,) = [its for at, its in story.impulses(since="08:30") if at < "08:31"]
    assert story.impulses(since="08:31")[0][1] == cut
    assert story.shows() == ["08:45"]
    story.ends_well()
