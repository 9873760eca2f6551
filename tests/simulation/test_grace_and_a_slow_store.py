"""A ring has waited for the supply until shortly before its grace is over; then its commit is slow.

Grace counts from when it was due, wherever it waited.
"""

from __future__ import annotations

import pytest
from simulator.story import ALTERNATING, Story, ring

MORE = (
    "[supply]\namps = 1.0\n[zones.hall]\nrelay = 18\nbells = 3\namps_each = 0.3\n"
    "[zones.annex]\nrelay = 19\nbells = 3\namps_each = 0.3\n" + ALTERNATING
)
CLOCK = '[clock]\ngrace = "10s"\n'


@pytest.mark.parametrize(("each", "rings"), [(0.3, 1), (2.6, 0)])
def test_it_is_not_begun_beyond_its_grace(each, rings):
    both = ring("08:30", 9, "hall"), ring("08:30", 5, "annex")
    story = Story(*both, more=MORE + CLOCK)
    story.until("08:30:05").happens("commits slow", seconds=900, each=each).until("08:32")
    assert len(story.sounded("annex")) == rings
    assert len(story.missed()) == 1 - rings
    assert sum(story.ends_well().values()) == 2
