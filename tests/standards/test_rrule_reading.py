"""A whole year of a week of plans, read a second time by python-dateutil: its recurrence rules, its
reading of local times, and the time zone data that it brings with it. Ring for ring the same."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from dateutil import rrule, tz
from dateutil.zoneinfo import get_zonefile_instance

from controller.building.civil import utc_ns
from controller.timetable.days import Timetable

# Times in and about the hours that clock changes skip or repeat, and some of an ordinary day.
PLANS = {
    "early": ("00:00", "00:30", "01:00", "01:15", "01:30", "01:45", "02:00", "02:15", "02:30"),
    "long": ("02:59:59", "03:00", "08:30", "09:20", "12:00", "15:45", "22:30", "23:30", "23:59:59"),
    "short": ("00:15", "02:45", "08:30", "11:30"),
}
WEEK = {
    "mon": "long",
    "tue": "short",
    "wed": "long",
    "thu": "early",
    "fri": "long",
    "sat": "short",
    "sun": "early",
}
WEEKDAYS = dict(zip(WEEK, rrule.weekdays, strict=True))
ZONES = (
    "America/Chicago",
    "America/St_Johns",
    "America/Sao_Paulo",
    "Europe/London",
    "Africa/Cairo",
    "Asia/Kolkata",
    "Australia/Lord_Howe",
    "Pacific/Chatham",
)


def text(zone: str) -> str:
    lines = [f'[building]\ntimezone = "{zone}"\n[zones.north]\nrelay = 17']
    for plan, times in PLANS.items():
        rings = ",".join(f'{{ at = "{at}", zones = ["north"], for = "2s" }}' for at in times)
        lines.append(f"[plans.{plan}]\nrings = [{rings}]")
    lines.append("[week]")
    lines += [f'{weekday} = "{plan}"' for weekday, plan in WEEK.items()]
    return "\n".join(lines)


def by_rrule(zone: str, year: int) -> list[tuple[int, str]]:
    """(due, written) of every ring on the dates of `year`, without a line of ours."""
    place = get_zonefile_instance().get(zone)
    assert place is not None
    found = []
    for weekday, plan in WEEK.items():
        for at in PLANS[plan]:
            hour, minute, second = (int(part) for part in (*at.split(":"), "0")[:3])
            written = rrule.rrule(
                rrule.WEEKLY,
                dtstart=datetime(year, 1, 1),
                until=datetime(year, 12, 31, 23, 59, 59),
                byweekday=WEEKDAYS[weekday],
                byhour=hour,
                byminute=minute,
                bysecond=second,
            )
            for local in written:
                # RFC 5545 §3.3.5: a missing time moves on by the gap, a double one is the first.
                shown = tz.resolve_imaginary(local.replace(tzinfo=place, fold=0))
                found.append((utc_ns(shown.astimezone(UTC)), local.isoformat()))
    return sorted(found)


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("year", [2018, 2024])
def test_a_year_of_rings_is_what_recurrence_rules_give(building_of, zone: str, year: int):
    timetable = Timetable(building_of(text(zone)))
    start = utc_ns(datetime(year, 1, 1, tzinfo=UTC) - timedelta(days=2))
    end = utc_ns(datetime(year + 1, 1, 1, tzinfo=UTC) + timedelta(days=2))
    ours = [
        (ring.due, ring.written)
        for ring in timetable.window(start, end)
        if ring.written.startswith(str(year))
    ]
    theirs = by_rrule(zone, year)
    assert len(theirs) > 2_000
    assert ours == theirs
