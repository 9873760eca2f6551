"""Quiet rows: the half-days on which a zone has no bells."""

from __future__ import annotations

from datetime import date

import pytest

from controller.timetable.days import Timetable

TEXT = """
[building]
timezone = "Europe/London"
[zones.north]
relay = 17
[zones.south]
relay = 27
[quiet]
north = [{rows}]
[plans.round]
rings = [
  {{ at = "02:00", zones = ["*"], for = "2s" }},
  {{ at = "05:59:59", zones = ["*"], for = "2s" }},
  {{ at = "06:00", zones = ["*"], for = "2s" }},
  {{ at = "17:59:59", zones = ["*"], for = "2s" }},
  {{ at = "18:00", zones = ["*"], for = "2s" }},
]
[plans.short]
rings = [{{ at = "10:00", zones = ["*"], for = "2s" }}]
[week]
mon = "round"
tue = "round"
wed = "round"
thu = "round"
fri = "round"
sat = "round"
sun = "round"
"""
OPEN_DAY = """
[[calendar]]
on = 2026-11-28
plan = "short"
lift_quiet = true
"""
FRIDAY, SATURDAY, SUNDAY = date(2026, 11, 27), date(2026, 11, 28), date(2026, 11, 29)
MONDAY = date(2026, 11, 30)


@pytest.fixture
def north_rings(building_of):
    """The times at which the north wing rings on a date, under these quiet rows."""

    def found(rows: str, day: date, more: str = "", orders=None) -> list[str]:
        timetable = Timetable(building_of(TEXT.format(rows=rows) + more), orders or {})
        rings = timetable.day(day).rings
        return [ring.written[11:] for ring in rings if ring.zone == "north"]

    return found


DAY = ["06:00:00", "17:59:59"]
EARLY, LATE = ["02:00:00", "05:59:59"], ["18:00:00"]


def test_a_quiet_day_half_includes_its_beginning_and_not_its_end(north_rings):
    assert north_rings('"sat day"', SATURDAY) == [*EARLY, *LATE]


def test_a_quiet_night_begins_in_the_evening_and_ends_the_next_morning(north_rings):
    assert north_rings('"fri night"', FRIDAY) == [*EARLY, *DAY]
    assert north_rings('"fri night"', SATURDAY) == [*DAY, *LATE]


def test_two_on_saturday_morning_is_in_fridays_night(north_rings):
    assert "02:00:00" in north_rings('"sat night"', SATURDAY)
    assert "02:00:00" not in north_rings('"fri night"', SATURDAY)


def test_a_weekday_alone_is_its_day_and_its_night(north_rings):
    assert north_rings('"sat"', SATURDAY) == EARLY
    assert north_rings('"sat"', SUNDAY) == [*DAY, *LATE]


def test_the_night_of_sunday_reaches_into_monday(north_rings):
    assert north_rings('"sun night"', MONDAY) == [*DAY, *LATE]


def test_quiet_rows_of_one_zone_leave_the_others_alone(building_of):
    day = Timetable(building_of(TEXT.format(rows='"sat", "fri"'))).day(SATURDAY)
    assert {ring.zone for ring in day.rings} == {"south"}
    assert {ring.zone for ring in day.silenced} == {"north"}
    assert [ring.written for ring in day.silenced] == [ring.written for ring in day.rings]


def test_the_halves_may_change_over_at_other_times(north_rings):
    halves = '\n[halves]\nday = "05:00"\nnight = "17:00"\n'
    assert north_rings('"sat day"', SATURDAY, halves) == ["02:00:00", "17:59:59", "18:00:00"]


def test_the_tape_keeps_quiet_rows_too(building_of):
    tape = '\n[tape]\nlength = "12h"\nfor = "1s"\n[tape.holes]\nnorth = ["09:10"]\n'
    day = Timetable(building_of(TEXT.format(rows='"sat day"') + tape)).day(SATURDAY)
    assert [r.written[11:] for r in day.silenced] == ["06:00:00", "09:10:00", "17:59:59"]
    assert "2026-11-28T21:10:00" in [ring.written for ring in day.rings]


# ── lifting them ─────────────────────────────────────────────────────────────────────────────────


def test_a_calendar_entry_alone_does_not_lift_quiet_rows(north_rings):
    entry = OPEN_DAY.replace("lift_quiet = true", "")
    assert north_rings('"sat"', SATURDAY, entry) == []


def test_a_calendar_entry_that_says_so_lifts_them(north_rings):
    assert north_rings('"sat"', SATURDAY, OPEN_DAY) == ["10:00:00"]


def test_it_may_lift_them_from_the_usual(north_rings):
    entry = OPEN_DAY.replace('"short"', '"usual"')
    assert north_rings('"sat", "fri"', SATURDAY, entry) == [*EARLY, *DAY, *LATE]


def test_after_midnight_the_entry_of_the_new_date_lifts(north_rings):
    """Saturday is open, Sunday is not: the small hours of Sunday stay quiet, those of Saturday
    are lifted, although they belong to Friday's night."""
    entry = OPEN_DAY.replace('"short"', '"usual"')
    assert north_rings('"fri", "sat"', SATURDAY, entry) == [*EARLY, *DAY, *LATE]
    assert north_rings('"fri", "sat"', SUNDAY, entry) == [*DAY, *LATE]


def test_only_the_entry_that_decides_the_date_can_lift(north_rings):
    over_it = '\n[[calendar]]\non = 2026-11-28\nplan = "short"\n'
    assert north_rings('"sat"', SATURDAY, OPEN_DAY + over_it) == []
    assert north_rings('"sat"', SATURDAY, over_it + OPEN_DAY) == ["10:00:00"]


def test_an_order_naming_a_plan_on_an_open_day_rings_it(north_rings):
    """The keeper changes what is rung on the open day; the building is open nevertheless."""
    orders = {SATURDAY: "round"}
    assert north_rings('"sat"', SATURDAY, OPEN_DAY, orders) == [*EARLY, *DAY, *LATE]


def test_the_order_usual_on_an_open_day_takes_the_open_day_back(north_rings):
    assert north_rings('"sat"', SATURDAY, OPEN_DAY, {SATURDAY: "usual"}) == EARLY


def test_an_order_alone_does_not_lift_quiet_rows(north_rings):
    assert north_rings('"sat"', SATURDAY, "", {SATURDAY: "short"}) == []


def test_a_public_holiday_does_not_lift_them(north_rings):
    holidays = '\n[holidays]\ncountry = "GB"\nsubdivision = "ENG"\nplan = "short"\n'
    boxing_day = date(2026, 12, 26)  # a Saturday
    assert north_rings('"sat"', boxing_day, holidays) == []
