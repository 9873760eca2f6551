"""A year drawn: each date by its plan, and by name what departs."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

import pytest
from school_house import school
from sheets_read import outside, sheet, told, words

from controller.pictures.plans import letters_of
from controller.pictures.year import year_of
from controller.pictures.year_svg import year_svg
from controller.pictures.year_text import year_text
from controller.timetable.days import Timetable


def year(building, first: str):
    return year_of(building, Timetable(building), date.fromisoformat(first))


@pytest.mark.parametrize(("first", "days"), [("2026-01-01", 365), ("2027-09-01", 366)])
def test_each_date_of_twelve_months_is_there_once(building_of, first, days):
    drawn = year(building_of(school()), first)
    assert len({day.date for day in drawn.days}) == len(drawn.days) == days
    assert len(drawn.months) == 12
    titles = told(sheet(year_svg(drawn)))
    assert len(titles) >= days
    assert sum(dates for _, _, dates in drawn.plans) == days


def test_what_departs_is_named_with_its_dates(building_of):
    notices = {one.words: one.when for one in year(building_of(school()), "2026-09-01").notices}
    assert notices["Concert <evening> (short)"] == "Wed 25 Nov"
    assert notices["Winter break (none)"] == "19 Dec–3 Jan"
    # Easter 2027: Good Friday is 26 March, two days before 28 March (Gregorian computus)
    assert notices["public holiday: Good Friday (none)"] == "Fri 26 Mar"
    # first Monday of September
    assert notices["public holiday: Labor Day (none)"] == "Mon 7 Sep"
    assert notices["clocks go back 60m, from 02:00:00 to 01:00:00"] == "Sun 1 Nov"
    assert notices["clocks go on 60m, from 02:00:00 to 03:00:00"] == "Sun 14 Mar"


def test_a_range_that_other_days_interrupt_is_said_once(building_of):
    more = """
[[calendar]]
from = "2026-12-19"
until = "2027-01-03"
plan = "none"
says = "Break"
[[calendar]]
on = "2026-12-25"
plan = "short"
says = "Bells"
"""
    notices = year(building_of(school(more=more)), "2026-09-01").notices
    assert [(one.when, one.words) for one in notices if one.sign] == [
        ("19–24 Dec, 26 Dec–3 Jan", "Break (none)"),
        ("Fri 25 Dec", "Bells (short)"),
    ]


def test_a_date_that_does_not_exist_is_drawn_as_none(building_of):
    drawn = year(building_of(school("Pacific/Apia", "")), "2011-01-01")
    (missing,) = (day for day in drawn.days if not day.exists)
    assert missing.date == date(2011, 12, 30)
    assert "no such date" in [one.words for one in drawn.notices]
    root = sheet(year_svg(drawn))
    assert "×" in words(root)
    assert "Fri 30 Dec 2011: no such date" in told(root)


def test_the_sheet_names_every_plan_and_every_departure(building_of):
    drawn = year(building_of(school()), "2026-09-01")
    root = sheet(year_svg(drawn))
    shown = words(root)
    assert not [*outside(root)]
    assert {"Good Friday", "Winter break"} <= {
        name for name in ("Good Friday", "Winter break") for one in shown if name in one
    }
    assert all(f"{plan}, {dates}" in shown for plan, _, dates in drawn.plans)
    assert Counter(shown)["R"] == 1 + sum(day.plan == "regular" for day in drawn.days)


@pytest.mark.parametrize("events", [40, 100, 300])
def test_departures_have_room_or_are_counted(building_of, events):
    days = (date(2027, 1, 1) + timedelta(days=number) for number in range(events))
    more = "".join(
        f'[[calendar]]\non = "{day}"\nplan = "short"\nsays = "Event {day}"\n' for day in days
    )
    drawn = year(building_of(school(more=more)), "2027-01-01")
    root = sheet(year_svg(drawn))
    assert not [*outside(root)]
    shown = [*words(root), *told(root)]  # what had to be cut is told whole under a pointer
    named = sum(notice.words in shown for notice in drawn.notices)
    left_out = [int(one.split()[1]) for one in shown if one.startswith("and ")]
    assert named + sum(left_out) == len(drawn.notices) == events + 2  # two clock changes
    assert left_out or events < 300


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
def test_in_a_terminal_each_week_has_a_line_and_fits(building_of, width):
    drawn = year(building_of(school()), "2026-09-01")
    lines = [line.plain for line in year_text(drawn, width)]
    assert all(len(line) <= width for line in lines)
    weeks = [line for line in lines if line[:4].strip().isdigit()]
    assert len(weeks) == 53
    assert weeks[0].split()[:4] == ["36", "31", "Aug", "R"]
    assert "Good Friday" in " ".join(" ".join(lines).split())


def test_beside_a_week_stands_what_departs_in_it(building_of):
    lines = [line.plain for line in year_text(year(building_of(school()), "2026-09-01"), 80)]
    assert " 48 23 Nov R   R   S*  R   S   R*  N    Wed 25 Concert <evening>; Sat 28" in lines
    assert " 10  8 Mar R   R   R   R   S   R   N>   Sun 14 clocks go on 60m, from 02:00:00" in lines


# ── letters ──────────────────────────────────────────────────────────────────────────────────────


def test_a_plan_is_known_by_a_letter_of_its_name():
    assert letters_of(["regular", "early-close", "exams", "rounds", "r"]) == {
        "regular": "R",
        "early-close": "E",
        "exams": "X",
        "rounds": "O",
        "r": "A",
    }


def test_a_hundred_plans_are_told_apart_and_more_of_them_change_no_letter():
    plans = [f"{number}-{'abc'[number % 3]}" for number in range(100)]
    letters = letters_of(plans)
    assert len(set(letters.values())) == 100
    assert letters_of(plans[:40]) == {plan: letters[plan] for plan in plans[:40]}
