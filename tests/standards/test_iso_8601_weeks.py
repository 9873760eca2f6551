"""ISO 8601: weeks begin on Monday, which is day 1, and week 1 holds the first Thursday."""

from __future__ import annotations

from datetime import date

import pytest

from controller.timetable.days import Timetable

# Published examples of ISO week dates; 2005, 2008 and 2010 computed from the rule.
WEEK_DATES = [
    ("1977-01-01", "1976-W53-6"),
    ("1977-01-02", "1976-W53-7"),
    ("1977-12-31", "1977-W52-6"),
    ("1978-01-01", "1977-W52-7"),
    ("1978-01-02", "1978-W01-1"),
    ("1978-12-31", "1978-W52-7"),
    ("2005-01-01", "2004-W53-6"),
    ("2006-12-31", "2006-W52-7"),
    ("2008-12-29", "2009-W01-1"),
    ("2010-01-03", "2009-W53-7"),
    ("2023-01-01", "2022-W52-7"),
    ("2026-05-28", "2026-W22-4"),
    ("2027-01-04", "2027-W01-1"),
]
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@pytest.mark.parametrize(("day", "written"), WEEK_DATES)
def test_the_calendar_we_stand_on_counts_weeks_by_the_standard(day, written):
    year, week, weekday = date.fromisoformat(day).isocalendar()
    assert f"{year}-W{week:02}-{weekday}" == written


def test_the_long_years_have_53_weeks():
    long_years = [year for year in range(2000, 2041) if date(year, 12, 28).isocalendar().week == 53]
    assert long_years == [2004, 2009, 2015, 2020, 2026, 2032, 2037]


@pytest.mark.parametrize(("day", "written"), WEEK_DATES)
def test_each_weekday_of_the_file_rings_on_its_day_of_the_week_date(building_of, day, written):
    """Every weekday has a plan of its own, whose one ring says which weekday it is."""
    text = '[building]\ntimezone = "UTC"\n[zones.north]\nrelay = 17\n'
    for name in WEEKDAYS:
        ring = f'{{ at = "09:00", zones = ["north"], for = "1s", says = "{name}" }}'
        text += f"[plans.only-{name}]\nrings = [{ring}]\n"
    text += "[week]\n" + "".join(f'{name} = "only-{name}"\n' for name in WEEKDAYS)
    (ring,) = Timetable(building_of(text)).day(date.fromisoformat(day)).rings
    assert ring.says == WEEKDAYS[int(written[-1]) - 1]
