"""The 24 V goes while the Pi runs; a sense input tells."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, SINGLE, SUPPLY, Story, ring


@pytest.mark.parametrize("into", [0.1, 0.35, 0.55, 0.9])
@pytest.mark.parametrize("seconds", [0.02, 0.3, 5, 200])
def test_in_an_impulse_it_is_given_again_when_it_is_back(into, seconds):
    story = Story(more=SUPPLY + ALTERNATING)
    story.until("08:29:59").passes(1 + into)
    story.happens("24 V gone", seconds=seconds)
    story.until("08:40:30")
    assert story.shows() == ["08:40"]
    story.ends_well()


@pytest.mark.parametrize(
    ("from_", "seconds", "doubtful"), [("08:29:30", 45, False), ("08:30:00.4", 30, True)]
)
def test_on_a_single_line_it_is_not_taken_or_taken_and_doubtful(from_, seconds, doubtful):
    story = Story(more=SUPPLY + SINGLE)
    story.until(from_).happens("24 V gone", seconds=seconds).until("08:40:30")
    assert story.row("yard").doubtful is doubtful
    story.ends_well()


def test_lines_stand_and_rings_wait_within_grace():
    story = Story(ring("08:30"), ring("08:40"), more=SUPPLY + ALTERNATING)
    story.until("08:29:50").happens("24 V gone", seconds=30).until("08:39")
    assert story.sounded() == [("08:30:20.000", 5.0)] or story.sounded()[0][0] < "08:30:21"
    story.until("08:39:50").happens("24 V gone", seconds=100).until("08:50:30")
    assert len(story.sounded()) == 1
    assert story.missed() == [("08:40:00", "north", "supply")]
    assert story.shows() == ["08:50"]
    story.ends_well()


@pytest.mark.parametrize("gone", [0.01, 0.1, 0.6])
@pytest.mark.parametrize("there", [0.05, 0.5, 2])
def test_it_sags_again_and_again(gone, there):
    story = Story(ring("08:30"), ring("08:45"), more=SUPPLY + ALTERNATING)
    story.until("08:29:58.7").happens("24 V sags", times=30, gone=gone, there=there)
    story.until("08:45:30")
    assert story.shows() == ["08:45"]
    assert sum(story.ends_well().values()) == 2


@pytest.mark.parametrize("at", ["08:29:59.5", "08:30:00.4", "08:30:03"])
def test_it_goes_and_then_everything_goes(at):
    story = Story(ring("08:30"), ring("08:45"), more=SUPPLY + ALTERNATING)
    story.until(at).happens("24 V gone", seconds=60).passes(0.3)
    story.happens("power cut", seconds=2).until("08:45:30")
    assert story.shows() == ["08:45"]
    story.ends_well()
