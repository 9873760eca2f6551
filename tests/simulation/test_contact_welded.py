"""A relay's contact welds: it does not open. A sense input tells; nothing else could."""

from __future__ import annotations

import pytest
from simulator.story import SENSED, Story, ring

ZONE = "[zones.hall]\nrelay = 18\nsense = 13\n"


@pytest.mark.parametrize("relay", [0, 1])
@pytest.mark.parametrize("at", ["08:29:30", "08:30:00.5", "08:30:01.5"])
def test_the_line_stands_until_it_opens_and_no_pair_is_ever_closed(relay, at):
    story = Story(more=SENSED)
    story.until(at).happens("contact welded", circuit="lines.main", relay=relay, seconds=600)
    story.until("08:35:30")
    assert len(story.impulses(since="08:29")) <= 4
    assert any("welded" in name for name in story.faults)
    story.until("08:50:30")
    assert story.shows() == ["08:50"]
    story.ends_well()


@pytest.mark.parametrize("strike", ["daemon killed", "hand killed", "power cut"])
@pytest.mark.parametrize("relay", [0, 1])
def test_it_is_welded_still_when_another_hand_takes_the_pins(strike, relay):
    story = Story(more=SENSED)
    story.until("08:29:30")
    story.happens("contact welded", circuit="lines.main", relay=relay, seconds=600)
    story.until("08:32:10")
    story.happens(strike, **({"seconds": 1} if strike == "power cut" else {})).until("08:50:30")
    assert story.shows() == ["08:50"]
    story.ends_well()


def test_in_a_zone_it_is_said_loudly_and_the_coil_is_let_go():
    story = Story(ring("08:30", zones="hall"), ring("08:45", zones="hall"), more=SENSED + ZONE)
    story.until("08:29:30")
    story.happens("contact welded", circuit="zones.hall", relay=0, seconds=120)
    story.until("08:31:20")
    assert story.faults == ["zones.hall welded"]
    story.until("08:46")
    assert story.sounded("hall") == [("08:30:00", 5.0), ("08:45:00", 5.0)]
    story.ends_well()
