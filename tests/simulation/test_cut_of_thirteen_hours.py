"""The power is away for more than a turn of the dials."""

from __future__ import annotations

from simulator.story import Story, ring


def test_the_dials_go_the_one_hour_and_the_rings_are_missed_off():
    story = Story(ring("09:00"), ring("18:00"), ring("22:00"))
    story.until("08:30:30").happens("cut of hours", hours=13)
    story.until("22:05:30")
    driven = len(story.impulses(since="08:31"))
    assert driven == 1 + 60 + 35, "13 h behind is 1 h; the last before the cut is given again"
    assert story.shows() == ["10:05"]
    assert story.missed() == [("09:00:00", "north", "off"), ("18:00:00", "north", "off")]
    assert story.sounded() == [("22:00:00", 5.0)]
    story.ends_well()
