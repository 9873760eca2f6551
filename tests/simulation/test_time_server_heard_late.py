"""After a cut the machine is up, and some time passes before anybody vouches for its clock."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

# Down at 08:29:00, power a second later, the daemon at 08:29:16.


@pytest.mark.parametrize("sync", [20, 30, 40])
def test_what_is_due_after_the_daemons_start_is_given_within_its_grace(sync):
    story = Story(ring("08:29:20"), ring("08:33"))
    story.until("08:29:00").happens("power cut", seconds=1, boot=15, sync=sync)
    story.until("08:34")
    (at, seconds), last = story.sounded()
    assert f"08:29:{sync + 1:02}" <= at < f"08:29:{sync + 10:02}"
    assert (seconds, last) == (5.0, ("08:33:00", 5.0))
    assert story.missed() == []
    story.ends_well()


@pytest.mark.parametrize(("due", "why"), [("08:29:10", "off"), ("08:29:20", "untrusted")])
def test_what_was_due_before_or_whose_grace_is_over_is_missed_and_it_says_why(due, why):
    story = Story(ring(due), ring("08:33"))
    story.until("08:29:00").happens("power cut", seconds=1, boot=15, sync=80).until("08:34")
    assert story.sounded() == [("08:33:00", 5.0)]
    assert story.missed() == [(due, "north", why)]
    story.ends_well()
