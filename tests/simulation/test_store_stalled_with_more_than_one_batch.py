"""The disk does not answer, and several things wait for it at once: none waits for another."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring


@pytest.mark.parametrize("after", [0.2, 1.5, 2.9])
@pytest.mark.parametrize("seconds", [20, 60])
def test_a_ring_behind_something_else_begins_within_five_seconds(after, seconds):
    story = Story(ring("08:30:30"), more=ALTERNATING)
    story.until("08:30:00").passes(29 - after).happens("store stalled", seconds=seconds)
    story.happens("follow", days=3, plan="none")
    story.until("08:30:40")
    ((at, lasted),) = story.sounded()
    assert "08:30:30" <= at <= "08:30:34.1"
    assert lasted == 5.0
    story.until("08:32:30")
    assert story.shows() == ["08:32"]
    assert sum(story.ends_well().values()) == 1


@pytest.mark.parametrize("after", [0.2, 1.5, 2.9])
def test_an_impulse_behind_something_else_is_late_by_no_more(after):
    story = Story(more=ALTERNATING)
    story.until("08:30:00").passes(59 - after).happens("store stalled", seconds=20)
    story.happens("follow", days=3, plan="none")
    story.until("08:31:30")
    ((at, _),) = story.impulses(since="08:30:30")
    assert "08:31:00" <= at <= "08:31:04.1"
    story.ends_well()


@pytest.mark.parametrize("end", ["daemon killed", "daemon restarted", "hand killed"])
def test_of_what_is_decided_in_a_long_stall_a_restart_knows_the_newest(end):
    story = Story(ring("08:31"), ring("08:33"), more=ALTERNATING)
    story.until("08:29:58").happens("store stalled", seconds=400)
    story.until("08:33:20").happens(end).until("08:40:30")
    assert story.shows() == ["08:40"]
    assert [at[:5] for at, _ in story.sounded()] == ["08:31", "08:33"]
    assert story.ends_well()["given"] == 2
