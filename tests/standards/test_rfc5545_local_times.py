"""RFC 5545 §3.3.5 (September 2009): local times that occur twice, or not at all.

"If the local time described occurs more than once (when changing from daylight to standard time),
the DATE-TIME value refers to the first occurrence of the referenced time. Thus,
TZID=America/New_York:20071104T013000 indicates November 4, 2007 at 1:30 A.M. EDT (UTC-04:00). If
the local time described does not occur (when changing from standard to daylight time), the
DATE-TIME value is interpreted using the UTC offset before the gap in local times. Thus,
TZID=America/New_York:20070311T023000 indicates March 11, 2007 at 3:30 A.M. EDT (UTC-04:00)."
"""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from controller.building.civil import CivilTime, utc_ns
from controller.timetable.days import Timetable

EXAMPLES = [
    (datetime(2007, 11, 4, 1, 30), datetime(2007, 11, 4, 5, 30, tzinfo=UTC)),
    (datetime(2007, 3, 11, 2, 30), datetime(2007, 3, 11, 7, 30, tzinfo=UTC)),
]
IDS = ["occurs twice", "does not occur"]


@pytest.mark.parametrize(("local", "instant"), EXAMPLES, ids=IDS)
def test_a_written_local_time_is_read_as_the_rfc_says(local, instant):
    civil = CivilTime("America/New_York")
    assert civil.instant(local) == utc_ns(instant)
    assert civil.offset_seconds(utc_ns(instant)) == -4 * 3600


def test_the_missing_time_is_shown_as_the_rfc_says():
    civil = CivilTime("America/New_York")
    shown = civil.aware(civil.instant(datetime(2007, 3, 11, 2, 30)))
    assert shown.isoformat() == "2007-03-11T03:30:00-04:00"
    assert not civil.occurs(datetime(2007, 3, 11, 2, 30))
    assert civil.occurs(datetime(2007, 11, 4, 1, 30))


@pytest.mark.parametrize(("local", "instant"), EXAMPLES, ids=IDS)
def test_a_ring_at_such_a_time_is_due_as_the_rfc_says_and_keeps_its_written_time(
    building_of, local, instant
):
    text = f"""
[building]
timezone = "America/New_York"
[zones.north]
relay = 17
[plans.night]
rings = [{{ at = "{local:%H:%M}", zones = ["north"], for = "2s" }}]
[week]
sun = "night"
"""
    (ring,) = Timetable(building_of(text)).day(local.date()).rings
    assert ring.due == utc_ns(instant)
    assert ring.written == local.isoformat()


def test_a_ring_at_a_time_that_occurs_twice_is_given_once(building_of):
    text = """
[building]
timezone = "America/New_York"
[zones.north]
relay = 17
[plans.night]
rings = [{ at = "01:30", zones = ["north"], for = "2s" }]
[week]
sun = "night"
"""
    timetable = Timetable(building_of(text))
    start = utc_ns(datetime(2007, 11, 4, tzinfo=UTC))
    assert len(list(timetable.window(start, start + 2 * 86_400 * 10**9))) == 1
    assert timetable.day(date(2007, 11, 4)).exists
