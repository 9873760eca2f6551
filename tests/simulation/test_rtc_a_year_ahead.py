"""After a cut the RTC says that it is a year later."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

MORE = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n[clock]\ntrust_rtc = {}\n'


def test_where_the_rtc_is_not_trusted_nothing_moves_until_a_time_server_is_heard():
    story = Story(ring("08:40"), ring("09:00"), more=MORE.format("false"))
    story.until("08:30:30").happens("cut, RTC a year ahead", seconds=5, sync=900)
    story.until("08:45")
    assert story.sounded() == []
    story.until("09:00:30")
    assert story.sounded() == [("09:00:00", 5.0)]
    assert story.shows() == ["09:00"]
    story.ends_well()


@pytest.mark.parametrize("sync", [1, 10, 600, 3600])
def test_what_it_gave_and_missed_a_year_ahead_bars_nothing_when_the_clock_is_right(sync):
    story = Story(ring("08:40"), ring("09:00"), ring("10:00"), more=MORE.format("true"))
    story.until("08:30:30").happens("cut, RTC a year ahead", seconds=5, sync=sync)
    story.until("10:00:30")
    assert story.sounded()[-1] == ("10:00:00", 5.0)
    assert story.shows() == ["10:00"]
    story.ends_well()


def test_and_the_power_goes_again_before_it_is_put_right():
    story = Story(ring("08:40"), ring("09:00"), ring("10:00"), more=MORE.format("true"))
    story.until("08:30:30").happens("cut, RTC a year ahead", seconds=5, sync=None)
    story.until("08:45:00.4").happens("power cut", seconds=5, sync=30)
    story.until("10:00:30")
    assert story.sounded()[-1] == ("10:00:00", 5.0)
    story.ends_well()
