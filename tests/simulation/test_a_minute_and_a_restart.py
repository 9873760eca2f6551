"""A zone has sounded nearly all that it may in a minute, and the daemon or the power goes."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring

RINGS = [ring("08:30", 9), ring("08:30:12", 9), ring("08:30:24", 9), ring("08:30:45", 9)]
STRIKES = {
    "daemon killed": {"restart": 0.5},
    "hand killed": {"released": 0, "restart": 3},
    "power cut": {"seconds": 0.1, "boot": 10},
}


@pytest.mark.parametrize("strike", STRIKES)
def test_what_sounded_before_counts_also_where_it_was_cut(strike):
    """9 s, 9 s and 8 s before the cut leave 4 s of the 30 s that the zone may sound; or 3 s, since
    where nobody knows when it was cut it counts as whole.
    """
    story = Story(*RINGS)
    story.until("08:30:32").happens(strike, **STRIKES[strike]).until("08:31:10")
    spans = story.sounded()
    assert spans[:3] == [("08:30:00", 9.0), ("08:30:12", 9.0), ("08:30:24", 8.0)]
    at, seconds = spans[3]
    assert at == "08:30:45"
    assert 3.0 <= seconds <= 4.0
    story.ends_well()


@pytest.mark.parametrize("restart", [0.5, 3])
def test_a_button_pressed_again_and_again_through_restarts_wears_no_bell(restart):
    button = '[panel.north_button]\npin = 20\ndoes = "ring"\nzones = ["north"]\n'
    story = Story(more=ALTERNATING + button)
    story.until("08:30:00")
    for _ in range(6):
        story.happens("press", name="north_button", seconds=7.5).passes(7)
        story.happens("daemon killed", restart=restart).passes(restart + 1)
    story.until("08:33")
    assert 20 < sum(seconds for at, seconds in story.sounded() if at < "08:31") <= 30.02
    story.ends_well()
