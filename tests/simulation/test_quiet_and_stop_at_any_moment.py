"""Somebody orders quiet, stop, or another plan for the day at any moment; something strikes."""

from __future__ import annotations

from datetime import date

import pytest
from simulator.story import Story, ring

from controller.engine import wishes

SECOND = 1_000_000_000
MOMENTS = ["08:29:58", "08:29:59.2", "08:29:59.97", "08:30:00.001", "08:30:03", "08:30:04.99"]
STRIKES = ["", "daemon killed", "hand killed", "power cut", "store stalled"]
DAY = date(2026, 11, 25)


def strikes(story: Story, strike: str) -> None:
    how = {"power cut": {"seconds": 1}, "store stalled": {"seconds": 20}}.get(strike, {})
    if strike:
        story.happens(strike, **how)


@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("at", MOMENTS)
@pytest.mark.parametrize("after", [0, 0.2])
def test_quiet_ends_what_sounds_and_lasts_whatever_strikes(strike, at, after):
    story = Story(ring("08:30"), ring("08:40"), ring("09:20"))
    story.until(at)
    story.world.order(wishes.QuietZones(("north",), story.instant("09:00")))
    story.passes(after)
    strikes(story, strike)
    story.until("09:21")
    assert story.sounded()[-1] == ("09:20:00", 5.0)
    assert after == 0 or all(not "08:40" <= one < "09:00" for one, _ in story.sounded())
    story.ends_well()


@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("at", MOMENTS)
def test_stop_ends_what_sounds_and_what_is_due_rings(strike, at):
    story = Story(ring("08:30"), ring("08:40"))
    story.until(at).world.order(wishes.StopAll())
    strikes(story, strike)
    story.until("08:41")
    assert story.sounded()[-1] == ("08:40:00", 5.0)
    assert sum(story.ends_well().values()) == 2


@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("at", MOMENTS)
@pytest.mark.parametrize("plan", ["none", "usual"])
def test_the_date_follows_another_plan(strike, at, plan):
    story = Story(ring("08:30"), ring("08:40"))
    story.until(at).world.order(wishes.Follow(DAY, plan))
    story.passes(0.2)
    strikes(story, strike)
    story.until("08:41")
    assert len(story.sounded()) <= (1 if plan == "none" else 2)
    story.ends_well()
