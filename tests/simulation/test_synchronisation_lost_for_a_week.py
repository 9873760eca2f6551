"""No time server for a week: everything goes on by the clock as it is."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring


@pytest.mark.parametrize("drift", [4.0, -4.0, 0.2])
def test_bells_and_dials_go_on_and_are_right_again_when_it_is_heard(drift):
    story = Story(ring("08:30"), ring("20:00"))
    story.until("09:00").happens("synchronisation lost", seconds=7 * 86_400, drift=drift)
    story.until("2026-12-02T08:30:30")
    assert len(story.sounded()) == 15, "eight mornings and seven evenings"
    story.until("2026-12-02T10:00:30")
    assert story.shows() == ["10:00"]
    assert story.ends_well()["missed"] == 0


def test_a_restart_meanwhile_does_not_end_the_trust_of_this_boot():
    story = Story(ring("10:00"))
    story.until("08:30").happens("synchronisation lost", seconds=40_000, drift=0)
    story.until("09:00").happens("daemon killed").until("10:01:30")
    assert story.sounded() == [("10:00:00", 5.0)]
    assert story.shows() == ["10:01"]


def test_a_new_boot_meanwhile_asks_anew():
    story = Story(ring("10:00"))
    story.until("08:30").happens("synchronisation lost", seconds=40_000, drift=0)
    story.until("09:00").happens("power cut", seconds=5, sync=None).until("10:01:30")
    assert story.sounded() == []
