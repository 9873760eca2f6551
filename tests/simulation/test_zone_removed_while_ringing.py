"""A zone is taken out of the file while its bell sounds, or its ring waits."""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring, text_of

WITH = [ring("08:30"), ring("08:30", 8, "south"), ring("09:30")]
WITHOUT = text_of(WITH[::2], ALTERNATING, "America/Halifax").replace(
    "[zones.south]\nrelay = 27\n", ""
)


@pytest.mark.parametrize("at", ["08:29:58", "08:29:59.5", "08:30:00.5", "08:30:06", "08:30:09"])
def test_what_sounds_is_ended_as_it_should_and_nothing_stays_closed(at):
    story = Story(*WITH, others=[WITHOUT])
    story.until(at).happens("file changed", number=1).until("09:31:30")
    assert story.sounded("north") == [("08:30:00", 5.0), ("09:30:00", 5.0)]
    assert story.sounded("south") in ([], [("08:30:00", 8.0)])
    assert story.shows() == ["09:31"]
    story.ends_well()


def test_and_the_power_goes_as_it_sounds():
    story = Story(*WITH, others=[WITHOUT])
    story.until("08:30:02").happens("file changed", number=1)
    story.passes(1).happens("power cut", seconds=1).until("09:31:30")
    assert story.sounded("south") == [("08:30:00", 3.0)]
    assert story.shows() == ["09:31"]
    story.ends_well()
