"""A restorer holds, sets, steps and drives a line, and something strikes just then."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story

from controller.engine import wishes

STRIKES = ["", "daemon killed", "hand killed", "power cut", "clock on"]
MOMENTS = ["08:29:59.1", "08:29:59.7", "08:30:00.4", "08:30:01.2", "08:30:20"]


def strikes(story: Story, strike: str) -> None:
    if strike == "clock on":
        story.happens("clock stepped", by=2, back=300, kept=True)
    elif strike:
        story.happens(strike, **({"seconds": 1} if strike == "power cut" else {}))


@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("at", MOMENTS)
@pytest.mark.parametrize("after", [0.01, 1.5])
def test_a_held_line_stands_whatever_strikes_and_is_right_when_it_goes(strike, at, after):
    story = Story(more=ALTERNATING + SINGLE)
    order = story.until(at).world.order(wishes.HoldLine("main"))
    story.passes(after)
    answered = order in story.world.answers
    strikes(story, strike)
    story.until("08:35")
    held = story.row().held
    assert held or not answered
    story.until("08:40:30")
    assert (len(story.impulses(since="08:36")) == 0) is held
    story.order(wishes.GoLine("main"))
    story.until("09:00:30")
    assert story.shows() == ["09:00"]
    story.ends_well()


@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("after", [0.3, 2.4, 9])
def test_extra_impulses_move_the_dials_and_not_what_is_believed(strike, after):
    story = Story(more=ALTERNATING)
    story.until("08:29:20").world.order(wishes.StepLine("main", 10))
    story.passes(after)
    strikes(story, strike)
    story.until("08:40:30")
    watch = story.world.judge.lines["main"]
    assert watch.right(), "by as many as were given"
    assert story.row().shown == 520
    story.ends_well()


@pytest.mark.parametrize("strike", STRIKES)
def test_driven_to_noon_they_are_held_there(strike):
    story = Story(more=ALTERNATING)
    story.until("08:29:20").order(wishes.DriveLine("main", 0))
    story.passes(60)
    strikes(story, strike)
    story.until("08:50")
    assert story.shows() == ["00:00"]
    assert story.row().held
    story.ends_well()
