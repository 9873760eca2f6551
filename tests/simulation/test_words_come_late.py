"""The machine is busy: words between daemon and hand take their time, or the hand wakes late."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, SUPPLY, Story, ring

from controller.engine.wishes import RingByHand, StopAll

SECOND = 1_000_000_000


@pytest.mark.parametrize("late", [0.002, 0.05, 0.4, 0.9])
@pytest.mark.parametrize("strike", ["", "clock on", "clock back", "24 V gone", "hand killed"])
@pytest.mark.parametrize("at", ["08:29:59.6", "08:30:00.1", "08:30:04.95"])
def test_words_cross_with_what_strikes(late, strike, at):
    story = Story(ring("08:30"), ring("08:40"), more=SUPPLY + ALTERNATING + SINGLE)
    story.until("08:20").happens("words come late", seconds=3600, late=late).until(at)
    if strike.startswith("clock"):
        by = 2 if strike == "clock on" else -2
        story.happens("clock stepped", by=by, back=600, kept=True)
    elif strike == "24 V gone":
        story.happens("24 V gone", seconds=0.5)
    elif strike:
        story.happens(strike)
    story.until("08:50:30")
    assert story.shows() == ["08:50"]
    assert sum(story.ends_well().values()) == 2


@pytest.mark.parametrize("late", [0.002, 0.05, 0.4, 0.9])
@pytest.mark.parametrize("at", ["08:29:59.5", "08:30:01", "08:30:04.7", "08:30:04.99"])
def test_a_ring_by_hand_crosses_with_the_end_of_another(late, at):
    story = Story(ring("08:30"), ring("08:30:12"))
    story.until("08:20").happens("words come late", seconds=3600, late=late).until(at)
    story.world.order(RingByHand(("north",), 3 * SECOND))
    story.passes(2).world.order(StopAll())
    story.until("08:31")
    assert sum(story.ends_well().values()) == 2


@pytest.mark.parametrize("late", [0.005, 0.1, 0.3])
def test_a_hand_that_wakes_late_keeps_its_limits(late):
    rings = [ring("08:30", 9), ring("08:30:20", 9), ring("08:30:40", 9), ring("08:31", 9)]
    story = Story(*rings)
    story.until("08:20").happens("hand wakes late", seconds=3600, late=late)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    story.ends_well()
