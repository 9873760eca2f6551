"""The daemon's process is gone. The hand opens its relays at once, and systemd starts another."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, Story, ring

MOMENTS = ["08:29:59.2", "08:29:59.9", "08:30:00.3", "08:30:01.5", "08:30:03", "08:30:20"]


@pytest.mark.parametrize("at", MOMENTS)
@pytest.mark.parametrize("restart", [0.5, 3, 60])
def test_dials_are_right_and_what_was_cut_stays_cut(at, restart):
    story = Story(ring("08:30"), ring("08:32"), more=ALTERNATING + SINGLE)
    story.until(at).happens("daemon killed", restart=restart)
    assert all(not r.coil for relays in story.world.parts.relays.values() for r in relays)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    assert story.sounded()[-1] == ("08:32:00", 5.0)
    assert sum(story.ends_well().values()) == 2


def test_a_ring_due_while_nobody_runs_is_given_within_its_grace():
    story = Story(ring("08:30"), ring("08:31"))
    story.until("08:29:50").happens("daemon killed", restart=30)
    story.until("08:30:50").happens("daemon killed", restart=60)
    story.until("08:33")
    ((at, seconds),) = story.sounded()
    assert "08:30:20" <= at < "08:30:21"
    assert seconds == 5.0
    assert story.missed() == [("08:31:00", "north", "off")]
    story.ends_well()


@pytest.mark.parametrize("into", [0.1, 0.5, 0.9])
def test_three_times_in_an_impulse_and_in_its_repeats(into):
    story = Story()
    story.until("08:30:00").passes(into)
    for _ in range(3):
        story.happens("daemon killed", restart=0.5).passes(0.5 + into)
    story.until("08:33:30")
    assert story.shows() == ["08:33"]
    story.ends_well()
