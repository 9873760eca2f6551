"""Rings on the days on which the clock changes, in several places' ways."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from controller.building.civil import utc_ns
from controller.timetable.days import Timetable

TEXT = """
[building]
timezone = "{timezone}"
[zones.north]
relay = 17
[zones.south]
relay = 27
[plans.night]
rings = [{rings}]
[week]
mon = "night"
tue = "night"
wed = "night"
thu = "night"
fri = "night"
sat = "night"
sun = "night"
"""


@pytest.fixture
def timetable_of(building_of):
    def found(timezone: str, *times: str) -> Timetable:
        rings = ",".join(f'{{ at = "{at}", zones = ["north"], for = "2s" }}' for at in times)
        return Timetable(building_of(TEXT.format(timezone=timezone, rings=rings)))

    return found


def due(rings) -> list[tuple[str, str]]:
    """(time as written, UTC) of rings."""
    return [
        (ring.written[11:16], datetime.fromtimestamp(ring.due // 10**9, UTC).strftime("%dT%H:%M"))
        for ring in rings
    ]


def test_in_the_spring_gap_a_ring_is_read_with_the_offset_before_it(timetable_of):
    timetable = timetable_of("America/Chicago", "01:30", "02:30", "03:15")
    rings = timetable.day(date(2026, 3, 8)).rings
    assert due(rings) == [("01:30", "08T07:30"), ("03:15", "08T08:15"), ("02:30", "08T08:30")]


def test_two_written_times_may_be_due_at_one_instant_and_stay_two_rings(timetable_of):
    rings = timetable_of("America/Chicago", "02:30", "03:30").day(date(2026, 3, 8)).rings
    assert due(rings) == [("02:30", "08T08:30"), ("03:30", "08T08:30")]


def test_on_the_autumn_night_a_ring_is_given_at_the_first_occurrence(timetable_of):
    timetable = timetable_of("America/Chicago", "01:30", "02:00")
    rings = timetable.day(date(2026, 11, 1)).rings
    assert due(rings) == [("01:30", "01T06:30"), ("02:00", "01T08:00")]


def test_where_the_clock_skips_midnight_a_ring_may_be_due_on_the_next_date(timetable_of):
    """America/Nuuk, 28 March 2026: 23:00 becomes 00:00 of the 29th."""
    timetable = timetable_of("America/Nuuk", "00:15", "23:30")
    assert due(timetable.day(date(2026, 3, 28)).rings) == [
        ("00:15", "28T02:15"),
        ("23:30", "29T01:30"),
    ]
    assert due(timetable.day(date(2026, 3, 29)).rings) == [
        ("00:15", "29T01:15"),
        ("23:30", "30T00:30"),
    ]


def test_rings_of_two_dates_still_come_in_the_order_in_which_they_are_due(timetable_of):
    timetable = timetable_of("America/Nuuk", "00:15", "23:30")
    start = utc_ns(datetime(2026, 3, 29, tzinfo=UTC))
    rings = list(timetable.window(start, start + 86_400 * 10**9))
    assert [ring.written for ring in rings] == ["2026-03-29T00:15:00", "2026-03-28T23:30:00"]


def test_a_day_that_begins_in_the_gap_has_its_rings(timetable_of):
    """Africa/Cairo, 24 April 2026: 00:00 becomes 01:00."""
    rings = timetable_of("Africa/Cairo", "00:00", "00:30", "09:00").day(date(2026, 4, 24)).rings
    assert due(rings) == [("00:00", "23T22:00"), ("00:30", "23T22:30"), ("09:00", "24T06:00")]


def test_quiet_rows_judge_by_the_time_as_written_not_as_shown(building_of):
    """02:30 of the missing hour rings at 03:30, but a day half that begins at 03:00 is not its."""
    text = TEXT.format(
        timezone="America/Chicago", rings='{ at = "02:30", zones = ["*"], for = "2s" }'
    )
    more = """
[halves]
day = "03:00"
night = "18:00"
[quiet]
north = ["sun day"]
south = ["sat night"]
"""
    day = Timetable(building_of(text + more)).day(date(2026, 3, 8))
    assert [ring.zone for ring in day.rings] == ["north"]
