"""What an edit would silence is said first: by accident is how most bells fall silent."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from controller.timetable.days import Timetable
from controller.timetable.differences import differences
from controller.timetable.silences import silences

SCHOOL = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.yard]
relay = 22
[plans.regular]
rings = [
  { at = "08:30", zones = ["north"], for = "5s" },
  { at = "12:00", zones = ["north", "yard"], for = "5s" },
]
[week]
mon = "regular"
tue = "regular"
wed = "regular"
"""
MONDAY = datetime(2026, 11, 30, 10)


@pytest.fixture
def warned(building_of):
    """The warnings of a change, on Monday 30 November 2026 at ten."""

    def made(before: str, after: str, at: datetime = MONDAY) -> list[str]:
        tables = [Timetable(building_of(text)) for text in (before, after)]
        civil = building_of(after).civil
        now = civil.instant(at)
        return silences(differences(*tables, now), civil.date_at(now))

    return made


def closed(*dates: str) -> str:
    return SCHOOL + "".join(f'[[calendar]]\non = {date}\nplan = "none"\n' for date in dates)


def test_a_silenced_tomorrow_is_called_tomorrow_with_the_rings_it_has_now(warned):
    said = warned(SCHOOL, closed("2026-12-01"))
    assert said == ["Tomorrow, Tue 1 December: nothing would ring (3 rings now)"]


def test_of_today_only_what_is_to_come_is_told(warned):
    said = warned(SCHOOL, closed("2026-11-30"))
    assert said == ["Today, Mon 30 November: nothing more would ring (2 rings now)"]


def test_a_day_that_is_over_is_no_warning(warned):
    assert warned(SCHOOL, closed("2026-11-30"), MONDAY + timedelta(hours=3)) == []


def test_a_day_that_had_no_ring_is_not_silenced(warned):
    assert warned(SCHOOL, closed("2026-12-03")) == []


def test_a_day_that_keeps_one_ring_is_not_silenced(warned):
    fewer = SCHOOL.replace('  { at = "08:30", zones = ["north"], for = "5s" },\n', "")
    assert warned(SCHOOL, fewer) == []


def test_a_zone_that_loses_all_its_rings_is_named(warned):
    said = warned(SCHOOL, SCHOOL.replace('"north", "yard"', '"north"'))
    assert said == ["Zone yard: nothing would ring on any of these days (6 rings now)"]


def test_many_days_are_four_and_a_count(warned):
    said = warned(SCHOOL, SCHOOL[: SCHOOL.index("[week]")])
    assert said == [
        "Today, Mon 30 November: nothing more would ring (2 rings now)",
        "Tomorrow, Tue 1 December: nothing would ring (3 rings now)",
        "Wed 2 December: nothing would ring (3 rings now)",
        "Mon 7 December: nothing would ring (3 rings now)",
        "3 more days, the last Mon 14 December: nothing would ring (7 rings now)",
    ], "and no zone again, for no day is left on which another rings"


def test_a_day_that_begins_to_ring_is_no_warning(warned):
    assert warned(closed("2026-12-01"), SCHOOL) == []
