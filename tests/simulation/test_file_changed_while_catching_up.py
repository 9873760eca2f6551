"""The file is changed and reloaded: while dials catch up, while bells ring, while nobody runs."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring, text_of

OTHER = text_of([ring("08:30", 2), ring("09:40"), ring("12:00")], ALTERNATING, "America/Halifax")
RINGS = [ring("08:30"), ring("09:45"), ring("12:00")]


def test_the_catch_up_goes_on():
    story = Story(*RINGS, others=[OTHER])
    story.until("08:31").happens("cut of hours", hours=1)
    story.until("09:31:31").happens("file changed", number=1)
    story.until("09:50:30")
    assert story.shows() == ["09:50"]
    assert story.sounded()[1:] == [("09:40:00", 5.0)]
    story.ends_well()


@pytest.mark.parametrize("at", ["08:29:59.2", "08:29:59.9", "08:30:01", "08:30:03", "08:30:20"])
def test_a_ring_that_is_another_now_is_given_once(at):
    story = Story(*RINGS, others=[OTHER])
    story.until(at).happens("file changed", number=1).until("08:40")
    assert [seconds for _, seconds in story.sounded()] == [2.0 if at < "08:30" else 5.0]
    story.ends_well()


def test_what_it_did_not_have_before_is_not_rung_for_the_past():
    new = text_of([ring("08:29:50"), ring("12:00")], ALTERNATING, "America/Halifax")
    story = Story(*RINGS, others=[new])
    story.until("08:29:55").happens("file changed", number=1).until("08:40")
    assert story.sounded() == []
    story.ends_well()


def test_it_is_changed_while_the_daemon_is_away():
    new = text_of([ring("08:29:50"), ring("08:45")], ALTERNATING, "America/Halifax")
    story = Story(*RINGS, others=[new])
    story.until("08:29:40").happens("daemon killed", restart=12)
    story.passes(1).happens("file changed", number=1).until("08:46")
    assert story.sounded() == [("08:45:00", 5.0)]
    story.ends_well()


@pytest.mark.parametrize("end", ["daemon killed", "hand killed", "power cut"])
def test_it_is_changed_and_then_something_strikes(end):
    story = Story(*RINGS, others=[OTHER])
    story.until("08:29:59.5").happens("file changed", number=1).passes(0.2)
    story.happens(end, **({"seconds": 1} if end == "power cut" else {})).until("09:50:30")
    assert story.shows() == ["09:50"]
    story.ends_well()
