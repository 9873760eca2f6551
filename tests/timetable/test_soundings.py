"""Soundings: rings of a zone that meet, and the limits on them."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schedules import Entry, Schedule, schedules

from controller.building.civil import utc_ns
from controller.timetable.contact import MINUTE, closed_within
from controller.timetable.days import Timetable

SECOND = 10**9
DAY = 86_400 * SECOND
MONDAY = utc_ns(datetime(2026, 11, 23, tzinfo=UTC))
NINE = MONDAY + 9 * 3600 * SECOND

TEXT = """
[building]
timezone = "UTC"
[zones.north]
relay = 17
longest = "10s"
a_minute = "25s"
[zones.south]
relay = 27
longest = "10s"
a_minute = "25s"
[plans.round]
rings = [{rings}]
[week]
mon = "round"
"""


@pytest.fixture
def soundings(building_of):
    """The soundings of a Monday with these rings: (time, zone, length in seconds or strokes)."""

    def found(*rings, start: int = MONDAY, end: int = MONDAY + DAY):
        rows = (
            f'{{ at = "{at}", zones = ["{zone}"], '
            + (f"strokes = {length}" if isinstance(length, list) else f'for = "{length}s"')
            + " }"
            for at, zone, length in rings
        )
        return Timetable(building_of(TEXT.format(rings=",".join(rows)))).soundings(start, end)

    return found


def seconds_after_nine(sounding) -> list[tuple[float, float]]:
    return [((a - NINE) / SECOND, (b - NINE) / SECOND) for a, b in sounding.closings]


def test_rings_apart_are_soundings_of_their_own(soundings):
    first, second = soundings(("09:00", "north", 5), ("09:00:06", "north", 5))
    assert seconds_after_nine(first) == [(0, 5)]
    assert seconds_after_nine(second) == [(6, 11)]
    assert first.cut is second.cut is None


def test_rings_that_overlap_are_one_sounding(soundings):
    (both,) = soundings(("09:00", "north", 5), ("09:00:03", "north", 6))
    assert seconds_after_nine(both) == [(0, 9)]
    assert [ring.written[11:] for ring in both.rings] == ["09:00:00", "09:00:03"]
    assert both.start == NINE


def test_rings_that_touch_are_one_sounding(soundings):
    (both,) = soundings(("09:00", "north", 5), ("09:00:05", "north", 5))
    assert seconds_after_nine(both) == [(0, 10)]


def test_a_ring_in_the_rest_between_two_strokes_joins_their_sounding(soundings):
    (both,) = soundings(("09:00", "north", [2.0, 6.0, 2.0]), ("09:00:03", "north", 2))
    assert seconds_after_nine(both) == [(0, 2), (3, 5), (8, 10)]


def test_a_long_ring_holds_on_to_what_comes_after_a_short_one_within_it(soundings):
    (all_three,) = soundings(
        ("09:00", "north", [1.0, 8.0, 1.0]), ("09:00:02", "north", 1), ("09:00:05", "north", 1)
    )
    assert seconds_after_nine(all_three) == [(0, 1), (2, 3), (5, 6), (9, 10)]


def test_rings_of_two_zones_are_two_soundings_in_the_order_of_the_file(soundings):
    both = soundings(("09:00", "south", 5), ("09:00", "north", 5))
    assert [sounding.zone for sounding in both] == ["north", "south"]


def test_soundings_come_by_their_start_though_an_earlier_one_ends_later(soundings):
    found = soundings(("09:00", "north", [1.0, 30.0, 1.0]), ("09:00:10", "south", 1))
    assert [sounding.zone for sounding in found] == ["north", "south"]


def test_where_a_closing_would_exceed_longest_the_sounding_ends_and_the_rest_is_missed(soundings):
    (all_three,) = soundings(
        ("09:00", "north", 8), ("09:00:05", "north", 8), ("09:00:12", "north", 3)
    )
    assert all_three.cut == (NINE + 10 * SECOND, "longest")
    assert seconds_after_nine(all_three) == [(0, 10)]
    assert [ring.written[11:] for ring in all_three.missed] == ["09:00:12"]


def test_a_ring_due_at_the_instant_of_the_cut_is_missed(soundings):
    (both,) = soundings(("09:00", "north", 10), ("09:00:10", "north", 5))
    assert both.cut == (NINE + 10 * SECOND, "longest")
    assert [ring.written[11:] for ring in both.missed] == ["09:00:10"]


def test_where_a_minute_is_full_the_sounding_ends(soundings):
    *_, third = soundings(
        ("09:00", "north", 10), ("09:00:20", "north", 10), ("09:00:40", "north", 10)
    )
    assert third.cut == (NINE + 45 * SECOND, "a-minute")
    assert seconds_after_nine(third) == [(40, 45)]
    assert third.missed == ()


def test_where_a_minute_is_full_at_its_start_the_ring_is_missed(soundings):
    rings = [(f"09:00:{at:02}", "north", length) for at, length in ((0, 10), (15, 10), (30, 5))]
    *_, last = soundings(*rings, ("09:00:45", "north", 4))
    assert last.cut == (NINE + 45 * SECOND, "a-minute")
    assert last.closings == ()
    assert last.missed == last.rings


def test_what_a_cut_left_out_does_not_fill_the_minute(soundings):
    *_, last = soundings(("09:00", "north", 9), ("09:00:05", "north", 9), ("09:00:30", "north", 10))
    assert last.cut is None


def test_a_window_knows_what_sounded_just_before_it(soundings):
    rings = [("09:00", "north", 10), ("09:00:20", "north", 10), ("09:00:40", "north", 10)]
    (third,) = soundings(*rings, start=NINE + 30 * SECOND)
    assert third.cut == (NINE + 45 * SECOND, "a-minute")


def test_a_sounding_belongs_to_the_window_in_which_its_first_ring_is_due(soundings):
    rings = [("09:00", "north", 5), ("09:00:04", "north", 5)]
    assert soundings(*rings, start=NINE + 2 * SECOND) == []
    (both,) = soundings(*rings, end=NINE + 2 * SECOND)
    assert len(both.rings) == 2


# ── properties ───────────────────────────────────────────────────────────────────────────────────

crowded = st.builds(
    lambda schedule, more: Schedule(
        **{**vars(schedule), "plans": {**schedule.plans, "regular": more}}
    ),
    schedules,
    st.lists(
        st.builds(
            Entry,
            st.integers(0, 40).map(lambda step: 9 * 3600 + 3 * step),
            st.lists(st.sampled_from(["north", "south"]), min_size=1, unique=True).map(tuple),
            st.integers(1, 12),
            st.just(""),
        ),
        max_size=12,
    ).map(tuple),
)
days = st.integers(0, 360).map(lambda day: utc_ns(datetime(2026, 1, 1, tzinfo=UTC)) + day * DAY)
quickly = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@quickly
@given(schedule=crowded, start=days, split=st.integers(0, 3 * DAY))
def test_the_soundings_of_a_window_are_those_of_its_two_halves(building_of, schedule, start, split):
    timetable = Timetable(building_of(schedule.text()))
    middle, end = start + split, start + 3 * DAY
    whole = timetable.soundings(start, end)
    assert whole == [*timetable.soundings(start, middle), *timetable.soundings(middle, end)]


@quickly
@given(schedule=crowded, start=days)
def test_each_ring_is_in_one_sounding_and_no_sounding_breaks_a_limit(building_of, schedule, start):
    building = building_of(schedule.text())
    timetable = Timetable(building)
    found = timetable.soundings(start, start + 3 * DAY)
    rings = [ring for sounding in found for ring in sounding.rings]
    begun_before = [
        ring for sounding in timetable.soundings(start - DAY, start) for ring in sounding.rings
    ]
    assert len({*rings, *begun_before}) == len(rings) + len(begun_before)
    assert {*rings, *begun_before} >= set(timetable.window(start, start + 3 * DAY))
    for name, zone in building.zones.items():
        closings = [c for sounding in found if sounding.zone == name for c in sounding.closings]
        assert closings == sorted(closings)
        for a, b in closings:
            assert b - a <= zone.longest_ns
            assert closed_within(closings, b - MINUTE, b) <= zone.a_minute_ns
            assert closed_within(closings, a, a + MINUTE) <= zone.a_minute_ns


def test_soundings_of_a_date_with_no_rings_are_none(building_of):
    timetable = Timetable(building_of(TEXT.format(rings="")))
    assert timetable.day(date(2026, 11, 23)).rings == ()
    assert timetable.soundings(MONDAY, MONDAY + DAY) == []
