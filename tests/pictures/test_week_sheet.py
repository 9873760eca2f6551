"""A week on one A4 sheet."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schedules import FIRST, LAST, schedules
from school_house import school, week
from sheets_read import outside, sheet, told, words

from controller.pictures.week import week_of
from controller.pictures.week_svg import week_svg
from controller.timetable.days import Timetable

quickly = settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
dates = st.dates(FIRST + timedelta(days=14), LAST - timedelta(days=14))
MANY = re.compile(r": (\d+) (?:soundings|silenced rings), ")


@quickly
@given(schedule=schedules, on=dates)
def test_every_mark_of_the_week_is_on_the_sheet_once_alone_or_counted(building_of, schedule, on):
    building = building_of(schedule.text())
    drawn = week_of(building, Timetable(building), on)
    root = sheet(week_svg(drawn))
    titles = [title for title in told(root) if re.match(r"(north|south|yard), ", title)]
    counted = sum(int(many[1]) if (many := MANY.search(title)) else 1 for title in titles)
    assert counted == sum(1 for _ in drawn.marks)
    assert not [*outside(root)]


def test_a_mark_says_when_how_long_what_for_and_what_silences_it(building_of):
    root = sheet(week_svg(week(building_of(school()), "2026-11-16")))
    titles = told(root)
    assert "north, Mon 16 Nov: 08:30, 5 s, First class" in titles
    assert "north, Mon 16 Nov: 12:00, 2 strokes, Lunch" in titles
    assert "north, Sat 21 Nov: 12:00, 2 strokes, Lunch; silenced by the quiet row sat day" in titles


def test_who_does_not_see_it_is_told_the_week_in_words(building_of):
    root = sheet(week_svg(week(building_of(school()), "2026-11-25")))
    assert root[0].text == "Elm House: Week 48 of 2026, 23 to 29 November 2026"
    description = root[1].text or ""
    assert "Wednesday 25 November: short (Concert <evening>); soundings: north 1." in description
    assert "Friday 27 November: short; soundings: north 1." in description


def test_a_day_that_departs_is_named_and_so_is_a_clock_change(building_of):
    assert "Concert <evening>" in words(sheet(week_svg(week(building_of(school()), "2026-11-25"))))
    spring = " ".join(words(sheet(week_svg(week(building_of(school()), "2027-03-14")))))
    assert "clocks go on 60m, from 02:00:00 to 03:00:00" in spring
    assert "never on the clock" in spring


def test_a_missing_date_is_drawn(building_of):
    root = sheet(week_svg(week(building_of(school("Pacific/Apia", "")), "2011-12-30")))
    assert "no such date" in words(root)


def crowd(zones: int, every_seconds: int) -> str:
    names = [f"z{number}" for number in range(zones)]
    rings = (
        f'{{ at = "{at // 3600:02}:{at // 60 % 60:02}:{at % 60:02}", zones = ["*"], for = "1s" }},'
        for at in range(0, 86_400, every_seconds)
    )
    return "\n".join(
        [
            '[building]\ntimezone = "UTC"',
            *(f"[zones.{name}]\nrelay = {number + 2}" for number, name in enumerate(names)),
            "[plans.many]\nrings = [",
            *rings,
            "]\n[week]",
            *(f'{day} = "many"' for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")),
        ]
    )


@pytest.mark.parametrize("zones", [1, 12, 13, 14, 24])
def test_however_many_zones_there_are_they_stand_on_one_sheet(building_of, zones):
    root = sheet(week_svg(week(building_of(crowd(zones, 3600)), "2026-11-25")))
    assert not [*outside(root)]
    shown = words(root)
    assert all(f"z{number}" in shown for number in range(zones))


def test_ten_thousand_rings_a_day_are_drawn_as_what_can_be_seen_of_them(building_of):
    text = week_svg(week(building_of(crowd(20, 180)), "2026-11-25"))  # 9,600 a day
    assert len(text) < 1_000_000
    assert "z0, Mon 23 Nov: 480 soundings, 00:00 to 23:57" in told(sheet(text))


def test_names_that_xml_cannot_hold_or_would_read_as_marks_do_no_harm(building_of):
    odd = school().replace('title = "North wing"', 'title = "<b>&\\uFFFE\\"]]>"')
    root = sheet(week_svg(week(building_of(odd), "2026-11-25")))
    assert '<b>&\ufffd"]]>' in words(root)
