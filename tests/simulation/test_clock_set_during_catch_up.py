"""The system's clock is set while dials are driven."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring

BY = [0.3, -0.3, 2, -2, 40, -40, 3600, -3600, 86_400, -86_400]


@pytest.mark.parametrize("by", BY)
@pytest.mark.parametrize("at", ["09:30:40.2", "09:30:41.5", "09:30:42"])
def test_dials_come_right_by_whatever_the_clock_then_says(by, at):
    story = Story(ring("11:00"), more=ALTERNATING + SINGLE)
    story.until("08:30").happens("cut of hours", hours=1)
    story.until(at)
    assert story.row().shown < 9 * 60 + 30, "they are being driven"
    story.happens("clock stepped", by=by, back=4000, kept=True)
    story.until("13:00:30")
    assert story.shows() == ["01:00"]
    story.ends_well()


def test_a_step_every_three_seconds_of_a_catch_up():
    story = Story()
    story.until("08:30").happens("cut of hours", hours=1).until("09:30:30")
    for number in range(30):
        by = 37.5 * (-1) ** number
        story.world.set_clock(story.world.clock.shift + round(by * 1e9), synced=True)
        story.passes(3)
    story.until("10:00:30")
    assert story.shows() == ["10:00"]
    story.ends_well()
