"""The supply carries one zone at a time; commits are slow, or something strikes, as they wait."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring

MORE = (
    "[supply]\namps = 1.0\n[zones.hall]\nrelay = 18\nbells = 3\namps_each = 0.3\n"
    "[zones.annex]\nrelay = 19\nbells = 3\namps_each = 0.3\n" + ALTERNATING
)
BOTH = [ring("08:30", 5, "hall"), ring("08:30", 5, "annex"), ring("08:31", 3, "hall")]
STRIKES = {
    "daemon killed": {},
    "hand killed": {},
    "power cut": {"seconds": 1},
    "clock stepped": {"by": -2, "back": 300, "kept": True},
    "engine hung": {"seconds": 1.6},
    "store stalled": {"seconds": 8},
}


def apart(story: Story) -> bool:
    """Whether the two never sounded at once."""
    spans = [(a, b) for zone in ("hall", "annex") for _, a, b in story.closings(f"zones.{zone}")]
    return all(b <= c or d <= a for a, b in spans for c, d in spans if (a, b) != (c, d))


def test_one_waits_for_the_other():
    story = Story(*BOTH, more=MORE)
    story.until("08:32")
    assert story.sounded("hall") == [("08:30:00", 5.0), ("08:31:00", 3.0)]
    assert story.sounded("annex") == [("08:30:05", 5.0)]
    story.ends_well()


@pytest.mark.parametrize("each", [0.3, 0.9, 1.4, 2.6])
def test_one_that_begins_late_ends_as_much_later_and_the_other_waits_for_that(each):
    story = Story(*BOTH, more=MORE)
    story.until("08:25").happens("commits slow", seconds=900, each=each).until("08:32")
    assert len(story.sounded("annex")) == 1
    assert apart(story)
    story.ends_well()


@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("at", ["08:29:59.5", "08:30:01", "08:30:04.5", "08:30:06"])
@pytest.mark.parametrize("each", [0, 1.4])
def test_something_strikes_as_one_waits(strike, at, each):
    story = Story(*BOTH, more=MORE)
    story.until("08:25").happens("commits slow", seconds=900, each=each)
    story.until(at).happens(strike, **STRIKES[strike]).until("08:40")
    assert apart(story)
    assert sum(story.ends_well().values()) == 3
