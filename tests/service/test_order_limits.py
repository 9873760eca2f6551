"""How much is taken at a time: paces, and the room for long lines."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.building.civil import SECOND
from controller.service.order_limits import LIMITS, NOTHING, LongLines, Pace

MS = SECOND // 1000
INSTANTS = st.lists(st.integers(0, 10 * SECOND), max_size=200).map(sorted)


def taken(pace: Pace, instants: list[int], kept: int = 0) -> list[int]:
    times = []
    for now in instants:
        if pace.due(kept) <= now:
            pace.take(now)
            times.append(now)
    return times


@given(INSTANTS)
def test_a_pace_gives_no_more_than_its_burst_and_what_time_has_earned(instants):
    times = taken(Pace(10, 5), instants)
    for first, start in enumerate(times):
        for last in range(first, len(times)):
            assert last - first + 1 <= 5 + (times[last] - start) / (SECOND // 10)


@given(INSTANTS)
def test_a_pace_refuses_nobody_without_need(instants):
    pace = Pace(10, 5)
    for now in instants:
        due = pace.due()
        if due > now:
            assert due <= now + SECOND // 10
            assert Pace.due(pace) == due, "asking changes nothing"
        else:
            pace.take(now)


def test_a_pace_begins_with_its_burst_and_goes_on_evenly():
    start = 1000 * SECOND
    pace = Pace(20, 3)
    every = [start + 10 * MS * number for number in range(30)]
    assert [t - start for t in taken(pace, every)] == [
        0, 10 * MS, 20 * MS, 50 * MS, 100 * MS, 150 * MS, 200 * MS, 250 * MS
    ]  # fmt: skip


def test_of_a_pace_the_last_part_is_kept():
    start = 1000 * SECOND
    pace = Pace(10, 5)
    assert len(taken(pace, [start] * 10, kept=2)) == 3
    assert len(taken(pace, [start] * 10)) == 2
    later = start + SECOND // 10
    assert taken(pace, [later], kept=2) == []
    assert taken(pace, [later]) == [later]


def test_room_for_long_lines_is_given_so_often_and_the_last_is_kept():
    rooms = LongLines(LIMITS._replace(long_lines=3))
    assert [rooms.take(0, 1) for _ in range(3)] == [True, True, False]
    assert [rooms.take(0, 0) for _ in range(2)] == [True, False]


def test_room_rests_after_a_line_by_its_length():
    rooms = LongLines(LIMITS._replace(long_lines=1, long_line_bytes_a_second=1000))
    assert rooms.due() is None
    assert rooms.take(5 * SECOND, 0)
    rooms.give_back(6 * SECOND, 500)
    assert rooms.due() == 6 * SECOND + 500 * MS
    assert not rooms.take(rooms.due() - 1, 0)
    assert rooms.take(6 * SECOND + 500 * MS, 0)


def test_the_limits_hold_together():
    limits = LIMITS
    assert limits.clients - limits.kept.clients >= 128
    worst_turn = limits.clients / limits.orders_a_second_in_all
    assert worst_turn < 0.5, "whoever says little is heard within half a second"
    heard = limits.clients * limits.short_line_bytes + limits.long_lines * limits.line_bytes
    assert heard < 9 << 20
    assert limits.unsent_bytes <= limits.unsent_bytes_in_all - limits.kept.unsent_bytes
    assert all(kept > 0 for kept in limits.kept)
    assert not any(NOTHING)
