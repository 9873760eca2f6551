"""The disk is full for a while. Bells and dials go on; nothing decided meanwhile is lost after."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

RINGS = [ring("08:40"), ring("08:50"), ring("09:30")]


def test_bells_and_dials_go_on_and_it_is_said():
    story = Story(*RINGS)
    story.until("08:30").happens("store full", seconds=1800).until("08:51:30")
    assert story.sounded() == [("08:40:00", 5.0), ("08:50:00", 5.0)]
    assert story.shows() == ["08:51"]
    assert story.faults == ["store"]
    story.until("09:01:00.5")
    assert story.faults == []
    story.until("09:31").happens("power cut", seconds=2)
    story.until("09:35:30")
    assert story.shows() == ["09:35"], "a cut after the first good commit is exact"
    story.ends_well()
    assert story.exempt == 0


@pytest.mark.parametrize("end", ["daemon killed", "daemon restarted", "hand killed"])
@pytest.mark.parametrize("at", ["08:39:59.5", "08:40:02", "08:40:20.3", "08:41:00.5"])
def test_a_mere_restart_meanwhile_is_exact_by_the_mirror(end, at):
    story = Story(*RINGS)
    story.until("08:30").happens("store full", seconds=1800)
    story.until(at).happens(end)
    story.until("08:55:30")
    assert story.shows() == ["08:55"]
    assert sum(story.ends_well().values()) == 3
    assert story.exempt == 0


def test_a_power_cut_meanwhile_cannot_be_exact_and_is_counted_by_name():
    story = Story(*RINGS)
    story.until("08:30:30").happens("store full", seconds=1800)
    story.until("08:41:30").happens("power cut", seconds=2)
    story.until("08:50:30")
    assert story.exempt == 11, "impulses from 08:31 to 08:41"
    assert len(story.sounded()) == 2, "no bell rings twice for it"
    story.ends_well()
