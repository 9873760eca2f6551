"""The RTC's battery is empty: the machine starts in 1970, until a time server is heard."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

from controller.engine.wishes import RingByHand

TRUSTED = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n[clock]\ntrust_rtc = true\n'


@pytest.mark.parametrize("more", [TRUSTED, TRUSTED.replace("true", "false")])
def test_bells_and_dials_stand_until_the_time_is_known(more):
    story = Story(ring("08:30"), ring("08:40"), ring("09:00"), more=more)
    story.until("08:29:30").happens("cut, RTC dead", seconds=5, sync=20 * 60)
    story.until("08:49:30")
    assert story.sounded() == []
    assert story.impulses(since="08:29:35")[1:] == [], "but the last before the cut, once more"
    story.until("09:00:30")
    assert story.shows() == ["09:00"]
    assert story.sounded() == [("09:00:00", 5.0)]
    assert [at for at, _, _ in story.missed()] == ["08:30:00", "08:40:00"]
    story.ends_well()


def test_a_bell_is_rung_by_hand_though_it_is_1970():
    story = Story()
    story.until("08:29:30").happens("cut, RTC dead", seconds=5, sync=None).until("08:31:00")
    assert "rings now" in story.order(RingByHand(("north",), 3_000_000_000))
    story.passes(10)
    assert story.sounded() == [("08:31:00", 3.0)]


def test_a_person_sets_the_clock_and_says_that_it_is_right():
    story = Story(ring("09:00"))
    story.until("08:29:30").happens("cut, RTC dead", seconds=5, sync=None)
    story.until("08:50").happens("trust").until("09:01:30")
    assert story.sounded() == [("09:00:00", 5.0)]
    assert story.shows() == ["09:01"]
    story.ends_well()


def test_a_word_in_1970_does_not_count_after_the_next_boot():
    story = Story(ring("09:00"))
    story.until("08:29:30").happens("cut, RTC dead", seconds=5, sync=None)
    story.until("08:50").happens("trust").until("08:55")
    story.happens("cut, RTC dead", seconds=5, sync=None).until("09:05")
    assert story.sounded() == []
    story.ends_well()
