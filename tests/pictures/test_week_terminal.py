"""A week in a terminal, however wide."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schedules import FIRST, LAST, schedules
from school_house import school, week

from controller.pictures.week import week_of
from controller.pictures.week_text import week_text
from controller.timetable.days import Timetable

quickly = settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
dates = st.dates(FIRST + timedelta(days=14), LAST - timedelta(days=14))


def lines(drawn, width: int, **how) -> list[str]:
    return [line.plain for line in week_text(drawn, width, **how)]


def lane(drawn, zone: str, width: int = 80, **how) -> list[str]:
    """A zone's seven rows, without the days before them."""
    shown = lines(drawn, width, **how)
    (start,) = (number for number, line in enumerate(shown) if line.startswith(f"{zone} "))
    return [line[10:] for line in shown[start : start + 8]]


@quickly
@given(schedule=schedules, on=dates, width=st.integers(40, 200))
def test_no_line_is_wider_than_the_terminal(building_of, schedule, on, width):
    drawn = week_of((building := building_of(schedule.text())), Timetable(building), on)
    assert all(len(line) <= width for line in lines(drawn, width))


@quickly
@given(schedule=schedules, on=dates, width=st.integers(40, 200))
def test_in_ascii_it_says_the_same(building_of, schedule, on, width):
    drawn = week_of((building := building_of(schedule.text())), Timetable(building), on)
    plain = lines(drawn, width, ascii_only=True)
    # What is left, the command itself replaces letter by letter.
    assert all(line.translate(dict.fromkeys(map(ord, "–…"))).isascii() for line in plain)
    assert len(plain) == len(lines(drawn, width))


def test_a_day_of_the_same_plan_looks_the_same(building_of):
    rows = lane(week(building_of(school()), "2026-11-16"), "yard")
    assert rows[1] == rows[2] == rows[3] == rows[4]
    assert rows[5] != rows[1]


def test_marks_stand_below_their_hour_and_are_of_different_shape(building_of):
    ruler, monday, *_, friday, saturday, _ = lane(
        week(building_of(school()), "2026-11-16"), "north"
    )
    hour = ruler.index("08")
    assert monday[hour + (ruler.index("10") - hour) // 4] == "▄"  # 08:30
    assert monday[ruler.index("12")] == "║"
    assert "█" in friday  # 8 s
    assert "○" in saturday
    assert saturday.endswith(" (2)")


def test_a_clock_change_and_a_missing_date_are_seen(building_of):
    house = building_of(school())
    assert "╳" in lane(week(house, "2027-03-14"), "yard")[7]
    assert "≈" in lane(week(house, "2026-11-01"), "yard")[7]
    friday = lane(week(building_of(school("Pacific/Apia", "")), "2011-12-30"), "yard")[5]
    assert set(friday) == {"╳"}


@pytest.mark.parametrize("width", [40, 80, 200])
def test_every_shape_that_is_drawn_is_explained(building_of, width):
    shown = lines(week(building_of(school()), "2026-11-16"), width)
    key = " ".join(shown[len(shown) - 1 - shown[::-1].index("") :])
    for words in ("strokes", "silenced by a quiet row", "quiet row", "night half"):
        assert words in key
    assert "never on the clock" not in key


def test_what_departs_is_said_beside_its_day(building_of):
    shown = lines(week(building_of(school()), "2026-11-25"), 80)
    assert "Wed 25 S  short: Concert <evening>" in shown
    assert "Fri 27 S  short" in shown
