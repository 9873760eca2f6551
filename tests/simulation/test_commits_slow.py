"""Commits take longer than `lead` as the clock is set or the hand dies: what broke a model most."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring

STRIKES = {
    "clock 2 s back": ("clock stepped", {"by": -2, "back": 300, "kept": True}),
    "clock 2 s on": ("clock stepped", {"by": 2, "back": 300, "kept": True}),
    "clock an hour back": ("clock stepped", {"by": -3600, "back": 300, "kept": True}),
    "clock an hour on": ("clock stepped", {"by": 3600, "back": 300, "kept": True}),
    "hand killed": ("hand killed", {}),
    "daemon killed": ("daemon killed", {}),
    "power cut": ("power cut", {"seconds": 2}),
    "engine hung": ("engine hung", {"seconds": 1.5}),
}


@pytest.mark.parametrize("each", [0.4, 1.4, 2.6])
@pytest.mark.parametrize("strike", STRIKES)
@pytest.mark.parametrize("at", ["08:29:59.3", "08:30:00.7", "08:30:02"])
def test_and_something_else_strikes(each, strike, at):
    story = Story(ring("08:30"), ring("08:31"), more=ALTERNATING + SINGLE)
    story.until("08:25").happens("commits slow", seconds=900, each=each)
    kind, how = STRIKES[strike]
    story.until(at).happens(kind, **how)
    story.until("08:39:30")
    assert sum(story.ends_well().values()) == 2
    assert story.exempt == 0


def test_the_impulse_is_late_by_as_much_and_the_dials_are_right():
    story = Story()
    story.until("08:29:30").happens("commits slow", seconds=900, each=1.4).until("08:35:30")
    at, _ = story.impulses(since="08:30")[0]
    assert "08:30:00.4" <= at < "08:30:00.6"
    assert story.shows() == ["08:35"]
