"""The drawn week and year as tables: they say what the pictures show, moment by moment."""

from __future__ import annotations

from datetime import date

import pytest

from controller.page.week_table import DayTable, week_table
from controller.page.year_table import departures
from controller.pictures.week import week_of
from controller.pictures.year import year_of
from controller.timetable.days import Timetable

SCHOOL = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.yard]
relay = 22
[zones.lodge]
relay = 27
[quiet]
yard = ["wed"]
[plans.regular]
rings = [
  { at = "08:30", zones = ["north", "yard"], for = "5s", says = "First class" },
  { at = "08:30", zones = ["lodge"], for = "2s" },
  { at = "12:00", zones = ["*"], strokes = [1, 0.5, 1], says = "Lunch" },
]
[week]
mon = "regular"
wed = "regular"
[[calendar]]
on = "2026-11-27"
plan = "regular"
says = "Open day"
[[calendar]]
from = "2026-12-19"
until = "2027-01-03"
plan = "none"
says = "Winter break"
"""


@pytest.fixture
def table(building_of):
    """The table of the week that holds a date."""

    def made(on: date, orders=None) -> dict[str, DayTable]:
        building = building_of(SCHOOL)
        days = week_table(week_of(building, Timetable(building, orders), on))
        return {day.key: day for day in days}

    return made


def test_zones_that_ring_alike_are_one_moment_and_others_stand_beside_them(table):
    monday = table(date(2026, 11, 25))["mon"]
    assert monday.day == "Mon 23 Nov"
    assert monday.plan == "regular"
    assert [(one.times, one.zones, one.how, one.says) for one in monday.moments] == [
        (("08:30",), ("north", "yard"), "5 s", "First class"),
        (("08:30",), ("lodge",), "2 s", ""),
        (("12:00",), ("north", "yard", "lodge"), "2 strokes", "Lunch"),
    ]


def test_what_a_quiet_row_silences_is_told_with_its_half_day(table):
    wednesday = table(date(2026, 11, 25))["wed"]
    assert [(one.times, one.zones, one.quiet) for one in wednesday.moments] == [
        (("08:30",), ("north",), ""),
        (("08:30",), ("yard",), "wed day"),
        (("08:30",), ("lodge",), ""),
        (("12:00",), ("north", "lodge"), ""),
        (("12:00",), ("yard",), "wed day"),
    ]


def test_what_has_no_text_is_one_line_a_day_and_a_day_like_another_says_so(building_of):
    rounds = [f'{{ at = "{hour:02d}:00", zones = ["lodge"], for = "2s" }}' for hour in range(24)]
    text = SCHOOL.replace("rings = [", f"rings = [{', '.join(rounds)},", 1)
    building = building_of(text)
    days = week_table(week_of(building, Timetable(building), date(2026, 11, 25)))
    first = days[0].moments[0]
    assert (len(first.times), first.times[:2], first.zones) == (24, ("00:00", "01:00"), ("lodge",))
    assert [day.as_on for day in days] == ["", "", "", "", "Mon 23 Nov", "", ""]


def test_a_day_that_departs_says_why_and_one_without_rings_has_no_moment(table):
    week = table(date(2026, 11, 25))
    assert (week["fri"].departs, week["fri"].why) == (True, "Open day")
    assert (week["thu"].departs, week["thu"].moments) == (False, ())


def test_a_date_that_follows_another_plan_by_order_is_shown_so(table):
    ordered = table(date(2026, 11, 25), {date(2026, 11, 23): "none"})["mon"]
    assert (ordered.plan, ordered.why, ordered.moments) == ("none", "by order", ())


def test_the_night_on_which_clocks_change_says_so(table):
    sunday = table(date(2026, 11, 1))["sun"]
    assert sunday.why == "clocks go back 60m, from 02:00:00 to 01:00:00"


@pytest.fixture
def year(building_of):
    building = building_of(SCHOOL)
    return year_of(building, Timetable(building), date(2026, 9, 1))


def test_dates_that_follow_each_other_and_depart_alike_are_one_row(year):
    assert [(one.when, one.days, one.plan, one.why) for one in departures(year)] == [
        ("Sun 1 Nov", 1, "none", "clocks go back 60m, from 02:00:00 to 01:00:00"),
        ("Fri 27 Nov", 1, "regular", "Open day"),
        ("Sat 19 Dec to Sun 3 Jan", 16, "none", "Winter break"),
        ("Sun 14 Mar", 1, "none", "clocks go on 60m, from 02:00:00 to 03:00:00"),
    ]
