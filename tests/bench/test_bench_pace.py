"""How fast relays may be worked, against the count of closings that the building's checks use."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.bench.pace import least_period, length_of, may_start
from controller.building.closings import most_in_a_minute
from controller.building.wiring import Circuit

MS = 1_000_000
SECOND = 1_000 * MS
MINUTE = 60 * SECOND
lengths = st.integers(10 * MS, 2 * SECOND)


def zone(longest, a_minute):
    return Circuit("zones.bell", "zone", (17,), "high", longest, a_minute, 0, None)


@given(lengths, st.integers(100 * MS, MINUTE))
@settings(max_examples=50)
def test_at_the_least_period_no_minute_has_more_than_its_limit(length, a_minute):
    circuit = zone(10 * SECOND, a_minute)
    length = length_of(circuit, length)
    period = least_period(circuit, length)
    count = MINUTE // period + 2  # a minute of them, and its edges
    closings = tuple((n * period, n * period + length) for n in range(count))
    assert most_in_a_minute(closings) <= a_minute


@given(st.lists(st.tuples(st.integers(1, 20 * SECOND), lengths), min_size=1, max_size=40))
def test_each_closing_waits_until_its_minute_has_room_and_no_longer(wanted):
    a_minute, at, given_ = 5 * SECOND, 0, []
    for pause, length in wanted:
        asked = at + pause
        start = may_start(given_, asked, length, a_minute)
        assert start >= asked
        closings = (*given_, (start, start + length))
        assert most_in_a_minute(closings) <= a_minute
        if start > asked:  # and a nanosecond earlier there would have been no room
            assert most_in_a_minute((*given_, (start - 1, start - 1 + length))) > a_minute
        given_.append((start, start + length))
        at = start + length


def test_a_closing_is_never_longer_than_the_zone_or_the_impulse_allows():
    assert length_of(zone(300 * MS, MINUTE), SECOND) == 300 * MS
    assert length_of(zone(10 * SECOND, 100 * MS), SECOND) == 100 * MS
    line = Circuit("lines.main", "line", (22, 23), "high", 2 * SECOND, 0, SECOND, None)
    assert length_of(line, SECOND // 2) == 2 * SECOND
