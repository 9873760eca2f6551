"""A small school to be drawn, and weeks of it."""

from __future__ import annotations

from datetime import date

from controller.building.model import Building
from controller.pictures.week import Week, week_of
from controller.timetable.days import Timetable

HOUR = 3_600_000_000_000

SCHOOL = """
[building]
name = "Elm House"
timezone = "{timezone}"
[zones.north]
title = "North wing"
relay = 17
[zones.yard]
relay = 18
longest = "15s"
a_minute = "20s"
[quiet]
north = ["sat", "sun", "fri night"]
[plans.regular]
rings = [
  {{ at = "08:30", zones = ["north", "yard"], for = "5s", says = "First class" }},
  {{ at = "12:00", zones = ["north"], strokes = [1, 0.5, 1], says = "Lunch" }},
]
[plans.short]
rings = [{{ at = "09:00", zones = ["north"], for = "8s", says = "Begin & end" }}]
[plans.night]
rings = [
  {{ at = "01:30", zones = ["yard"], for = "2s" }},
  {{ at = "02:10", zones = ["yard"], for = "2s" }},
]
[week]
mon = "regular"
tue = "regular"
wed = "regular"
thu = "regular"
fri = "short"
sat = "regular"
sun = "night"
{more}
"""

CALENDAR = """
[[calendar]]
on = "2026-11-25"
plan = "short"
says = "Concert <evening>"
[[calendar]]
from = "2026-12-19"
until = "2027-01-03"
plan = "none"
says = "Winter break"
[[calendar]]
on = "2026-11-28"
plan = "regular"
lift_quiet = true
[holidays]
country = "CA"
subdivision = "NS"
plan = "none"
"""


def school(timezone: str = "America/Halifax", more: str = CALENDAR) -> str:
    """The text of the school's file."""
    return SCHOOL.format(timezone=timezone, more=more)


def week(building: Building, on: str, follow: dict[date, str] | None = None) -> Week:
    """The week that holds a date."""
    return week_of(building, Timetable(building, follow), date.fromisoformat(on))
