"""Public holidays, by our module and by a timetable's day, against what governments publish."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from controller.timetable.days import Timetable
from controller.timetable.holidays import library_version, public_holidays

# England and Wales: the UK government's file of bank holidays (alphagov/frontend,
# lib/data/bank-holidays.json, commit cb2a016d), substitute days as printed there.
ENGLAND = {
    2025: "01-01 04-18 04-21 05-05 05-26 08-25 12-25 12-26",
    2026: "01-01 04-03 04-06 05-04 05-25 08-31 12-25 12-28",
    2027: "01-01 03-26 03-29 05-03 05-31 08-30 12-27 12-28",
}
# The same file; Christmas, Boxing Day and the rest of spring as in England.
SCOTLAND = {
    2025: "01-01 01-02 04-18 05-05 05-26 08-04 12-01 12-25 12-26",
    2026: "01-01 01-02 04-03 05-04 05-25 06-15 08-03 11-30 12-25 12-28",
    2027: "01-01 01-04 03-26 05-03 05-31 08-02 11-30 12-27 12-28",
}
NORTHERN_IRELAND = {
    2025: "01-01 03-17 04-18 04-21 05-05 05-26 07-14 08-25 12-25 12-26",
    2026: "01-01 03-17 04-03 04-06 05-04 05-25 07-13 08-31 12-25 12-28",
    2027: "01-01 03-17 03-26 03-29 05-03 05-31 07-12 08-30 12-27 12-28",
}
# United States: 5 U.S.C. 6103(a), Saturday to Friday by 6103(b), Sunday to Monday by Executive
# Order 11582; 2025 and 2026 as printed by United States courts, 2027 computed from the statute.
# 2027-12-31 is New Year's Day 2028 as observed.
UNITED_STATES = {
    2025: "01-01 01-20 02-17 05-26 06-19 07-04 09-01 10-13 11-11 11-27 12-25",
    2026: "01-01 01-19 02-16 05-25 06-19 07-03 09-07 10-12 11-11 11-26 12-25",
    2027: "01-01 01-18 02-15 05-31 06-18 07-05 09-06 10-11 11-11 11-25 12-24 12-31",
}
PUBLISHED = [
    ("GB", "ENG", ENGLAND),
    ("GB", "WLS", ENGLAND),
    ("GB", "SCT", SCOTLAND),
    ("GB", "NIR", NORTHERN_IRELAND),
    ("US", None, UNITED_STATES),
]
CASES = [
    (country, subdivision, year, [date.fromisoformat(f"{year}-{day}") for day in days.split()])
    for country, subdivision, table in PUBLISHED
    for year, days in table.items()
]
IDS = [f"{country} {subdivision or ''} {year}" for country, subdivision, year, _ in CASES]
EVERY_DAY = """
[building]
timezone = "UTC"
[zones.north]
relay = 17
[plans.round]
rings = [{ at = "09:00", zones = ["north"], for = "2s" }]
[week]
mon = "round"
tue = "round"
wed = "round"
thu = "round"
fri = "round"
"""


@pytest.mark.parametrize(("country", "subdivision", "year", "published"), CASES, ids=IDS)
def test_our_weekday_holidays_are_the_published_ones(country, subdivision, year, published):
    ours = public_holidays(country, subdivision, year)
    assert [day for day in ours if day.isoweekday() <= 5] == published


@pytest.mark.parametrize(("country", "subdivision", "year", "published"), CASES, ids=IDS)
def test_the_weekdays_without_rings_are_the_published_ones(
    building_of, country, subdivision, year, published
):
    text = EVERY_DAY + f'[holidays]\ncountry = "{country}"\n'
    if subdivision is not None:
        text += f'subdivision = "{subdivision}"\n'
    timetable = Timetable(building_of(text))
    dates = [date(year, 1, 1) + timedelta(days=number) for number in range(365)]
    days = [timetable.day(each) for each in dates if each.isoweekday() <= 5]
    assert [day.date for day in days if not day.rings] == published
    assert all(day.source == "holiday" and day.says for day in days if not day.rings)


def test_new_years_day_2028_is_observed_in_2027_and_counted_there():
    assert public_holidays("US", None, 2027)[date(2027, 12, 31)] == "New Year's Day (observed)"
    assert date(2027, 12, 31) not in public_holidays("US", None, 2028)


def test_a_holiday_of_a_year_is_asked_for_by_that_year_alone():
    for year in range(2024, 2031):
        assert {day.year for day in public_holidays("US", None, year)} == {year}


def test_a_country_without_its_subdivision_has_fewer_holidays():
    """GB alone lacks Easter Monday: why the guide says to name ENG, WLS, SCT or NIR."""
    easter_monday = date(2026, 4, 6)
    assert easter_monday in public_holidays("GB", "ENG", 2026)
    assert easter_monday not in public_holidays("GB", None, 2026)


def test_the_library_says_its_version():
    assert int(library_version().split(".")[1]) >= 60  # as pyproject asks: 0.60 or later


# ── Easter ───────────────────────────────────────────────────────────────────────────────────────

# A published list of Easter dates, 2001 to 2045 (a second one agrees for 2020 to 2030).
EASTER = {
    2019: (4, 21),
    2020: (4, 12),
    2021: (4, 4),
    2022: (4, 17),
    2023: (4, 9),
    2024: (3, 31),
    2025: (4, 20),
    2026: (4, 5),
    2027: (3, 28),
    2028: (4, 16),
    2029: (4, 1),
    2030: (4, 21),
    2031: (4, 13),
    2035: (3, 25),
    2038: (4, 25),
}


def easter(year: int) -> date:
    """Meeus, Astronomical Algorithms: the anonymous Gregorian method."""
    a, (b, c) = year % 19, divmod(year, 100)
    (d, e), f = divmod(b, 4), (b + 8) // 25
    g = (b - f + 1) // 3
    h = (19 * a + b - d - g + 15) % 30
    i, k = divmod(c, 4)
    m = (32 + 2 * e + 2 * i - h - k) % 7
    n = (a + 11 * h + 22 * m) // 451
    month, day = divmod(h + m - 7 * n + 114, 31)
    return date(year, month, day + 1)


def test_the_method_gives_the_published_list():
    assert {year: (easter(year).month, easter(year).day) for year in EASTER} == EASTER


@pytest.mark.parametrize("year", [*range(2019, 2032), 2035, 2038, 2049])
def test_good_friday_and_easter_monday_stand_about_easter(year):
    ours = public_holidays("GB", "ENG", year)
    assert ours[easter(year) - timedelta(days=2)] == "Good Friday"
    assert ours[easter(year) + timedelta(days=1)] == "Easter Monday"
