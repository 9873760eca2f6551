"""A play that waits for the store begins late: nobody knows yet until when it draws its current."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND
from told import sounded

MORE = """
[supply]
amps = 0.5
[zones.hall]
relay = 5
bells = 1
amps_each = 0.5
[zones.court]
relay = 6
bells = 1
amps_each = 0.5
"""
HALL = '{ at = "08:30", zones = ["hall"], for = "1s" }'
AFTER_IT = '{ at = "08:30:01", zones = ["court"], for = "1s" }'
WITH_IT = '{ at = "08:30", zones = ["court"], for = "1s" }'


@pytest.mark.parametrize("court", [AFTER_IT, WITH_IT])
@pytest.mark.parametrize("commit", [0, 0.3, 1.5, 4, 12])
def test_the_next_waits_until_the_one_before_it_was_let_go(world_of, court, commit):
    world = world_of(HALL, court, more=MORE)
    world.run(58 * SECOND)
    world.commit_ns = round(commit * SECOND)
    world.run(1_500 * MILLISECOND)
    world.commit_ns = 0  # what comes now is answered together with what waits
    world.run(MINUTE)
    ((first, a),) = sounded(world, "hall")
    ((second, b),) = sounded(world, "court")
    assert (a, b) == (1, 1)
    assert first == 60 + max(0, commit - 1)
    assert second == first + 1
