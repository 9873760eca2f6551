"""A button of the panel stays closed, or its contact closes and opens without end."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring

PANEL = (
    '[panel.north_button]\npin = 20\ndoes = "ring"\nzones = ["north"]\n'
    '[panel.stop_button]\npin = 21\ndoes = "stop"\n'
    '[panel.south_switch]\npin = 16\ndoes = "quiet"\nzones = ["south"]\n'
)
MORE = ALTERNATING + PANEL


def test_a_ring_button_that_stays_closed_rings_for_longest_and_no_more():
    story = Story(ring("08:45"), more=MORE)
    story.until("08:30").happens("button stuck", name="north_button", seconds=1800)
    story.until("08:33")
    assert story.sounded() == [("08:30:00", 10.0)]
    assert story.faults == ["panel.north_button"]
    story.until("08:46")
    assert story.sounded()[1:] == [("08:45:00", 5.0)], "the timetable rings on"
    story.ends_well()


@pytest.mark.parametrize("strike", ["daemon killed", "hand killed", "power cut"])
def test_it_is_still_closed_when_the_daemon_starts_again(strike):
    story = Story(ring("08:45"), more=MORE)
    story.until("08:30").happens("button stuck", name="north_button", seconds=1800).passes(4)
    story.happens(strike, **({"seconds": 1} if strike == "power cut" else {})).until("08:46")
    assert story.sounded()[-1] == ("08:45:00", 5.0)
    assert len(story.sounded()) == 2, "closed at the start it does nothing"
    story.ends_well()


def test_a_stop_button_that_stays_closed_stops_what_sounds_and_not_what_is_due_later():
    story = Story(ring("08:30"), ring("08:31"), more=MORE)
    story.until("08:30:02").happens("button stuck", name="stop_button", seconds=600)
    story.until("08:40")
    assert story.sounded() == [("08:30:00", 2.0), ("08:31:00", 5.0)]
    story.ends_well()


@pytest.mark.parametrize("at", ["08:29:59.2", "08:29:59.99", "08:30:01", "08:30:06"])
@pytest.mark.parametrize("seconds", [0.1, 3, 90])
def test_where_the_switch_is_at_quiet_nothing_rings(at, seconds):
    story = Story(ring("08:30", zones="south"), more=MORE)
    story.until(at).happens("press", name="south_switch", seconds=seconds).until("08:40")
    assert sum(story.ends_well().values()) == 1


@pytest.mark.parametrize("name", ["north_button", "stop_button", "south_switch"])
@pytest.mark.parametrize("each", [0.021, 0.2])
def test_a_contact_that_chatters_neither_wears_a_bell_nor_stops_the_timetable(name, each):
    story = Story(ring("08:30"), ring("08:40"), ring("08:40", zones="south"), more=MORE)
    story.until("08:29:58").happens("button chatters", name=name, times=200, each=each)
    story.until("08:41:30")
    assert story.sounded()[-1] == ("08:40:00", 5.0)
    assert story.shows() == ["08:41"]
    story.ends_well()
