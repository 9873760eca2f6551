"""Pacific/Apia went from 29 to 31 December 2011 (IANA time zone database): no 30th, no rings."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from controller.building.civil import CivilTime, utc_ns
from controller.timetable.days import Timetable

TEXT = """
[building]
timezone = "Pacific/Apia"
[zones.north]
relay = 17
[plans.round]
rings = [
  { at = "00:00", zones = ["north"], for = "2s" },
  { at = "12:00", zones = ["north"], for = "2s" },
  { at = "23:59:59", zones = ["north"], for = "2s" },
]
[week]
thu = "round"
fri = "round"
sat = "round"
[tape]
length = "6h"
for = "1s"
[tape.holes]
north = ["01:00"]
"""
MISSING = date(2011, 12, 30)


@pytest.fixture
def timetable(building_of) -> Timetable:
    return Timetable(building_of(TEXT))


def test_the_missing_date_does_not_exist_and_has_no_rings(timetable):
    assert not CivilTime("Pacific/Apia").date_exists(MISSING)
    day = timetable.day(MISSING)
    assert not day.exists
    assert day.rings == day.silenced == ()


def test_an_order_does_not_make_it_exist(building_of):
    assert Timetable(building_of(TEXT), {MISSING: "round"}).day(MISSING).rings == ()


@pytest.mark.parametrize(("day", "offset_hours"), [(29, -10), (31, 14)])
def test_the_dates_before_and_after_have_all_their_rings(timetable, day, offset_hours):
    found = timetable.day(date(2011, 12, day))
    assert found.exists
    times = ["00:00:00", "01:00:00", "07:00:00", "12:00:00", "13:00:00", "19:00:00", "23:59:59"]
    assert [ring.written for ring in found.rings] == [f"2011-12-{day}T{at}" for at in times]
    for ring in found.rings:
        local = datetime.fromisoformat(ring.written).replace(tzinfo=UTC)
        assert ring.due == utc_ns(local) - offset_hours * 3600 * 10**9


def test_the_last_second_of_the_29th_is_followed_by_the_first_of_the_31st(timetable):
    change = utc_ns(datetime(2011, 12, 30, 10, tzinfo=UTC))
    rings = list(timetable.window(change - 10**9, change + 10**9))
    assert [ring.written for ring in rings] == ["2011-12-29T23:59:59", "2011-12-31T00:00:00"]


def test_the_weekday_after_the_missing_friday_is_saturday(timetable):
    assert timetable.day(date(2011, 12, 29)).date.isoweekday() == 4
    assert timetable.day(date(2011, 12, 31)).date.isoweekday() == 6
