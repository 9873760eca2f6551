"""RFC 5545 §3.8.5.3: worked examples of recurrences, as plans of ours, against the RFC's own lists.

All at 09:00 America/New_York from 2 September 1997 unless shown; the RFC prints EDT (UTC−04:00) up
to 25 October and EST (UTC−05:00) from 26 October. Its example of every three hours up to 17:00Z is
left out: the printed list disagrees with its own rule (a known erratum, from memory).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from controller.building.civil import utc_ns
from controller.timetable.days import Timetable

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIRST_EST = date(1997, 10, 26)


@pytest.fixture
def instants(building_of):
    """When a building with these rings on these weekdays rings, in a span of UTC."""

    def found(start: datetime, end: datetime, *weekdays: str, at=("09:00",), more: str = ""):
        rings = ",".join(f'{{ at = "{each}", zones = ["north"], for = "2s" }}' for each in at)
        text = f"""
[building]
timezone = "America/New_York"
[zones.north]
relay = 17
[plans.nine]
rings = [{rings}]
[week]
"""
        text += "".join(f'{name} = "nine"\n' for name in weekdays) + more
        window = Timetable(building_of(text)).window(utc_ns(start), utc_ns(end))
        return [datetime.fromtimestamp(ring.due // 10**9, UTC) for ring in window]

    return found


def nine_o_clock(day: date) -> datetime:
    """09:00 EDT or EST in UTC, by the offsets that the RFC prints."""
    return datetime(day.year, day.month, day.day, 13 if day < FIRST_EST else 14, tzinfo=UTC)


def on(month: int, *days: int) -> list[datetime]:
    return [nine_o_clock(date(1997, month, day)) for day in days]


SEPTEMBER_2 = datetime(1997, 9, 2, 4, tzinfo=UTC)  # its midnight
CHRISTMAS_EVE = datetime(1997, 12, 24, tzinfo=UTC)  # UNTIL=19971224T000000Z


def test_daily_for_ten_occurrences(instants):
    """FREQ=DAILY;COUNT=10 ==> September 2-11."""
    assert instants(SEPTEMBER_2, CHRISTMAS_EVE, *WEEKDAYS)[:10] == on(9, *range(2, 12))


def test_daily_until_december_24_1997(instants):
    """==> September 2-30; October 1-25 (EDT), October 26-31; November 1-30; December 1-23 (EST)."""
    expected = [
        *on(9, *range(2, 31)),
        *on(10, *range(1, 32)),
        *on(11, *range(1, 31)),
        *on(12, *range(1, 24)),
    ]
    assert len(expected) == 113
    assert instants(SEPTEMBER_2, CHRISTMAS_EVE, *WEEKDAYS) == expected


def test_weekly_for_ten_occurrences(instants):
    """FREQ=WEEKLY;COUNT=10 ==> September 2,9,16,23,30; October 7,14,21 (EDT), 28; November 4."""
    expected = [*on(9, 2, 9, 16, 23, 30), *on(10, 7, 14, 21, 28), *on(11, 4)]
    assert instants(SEPTEMBER_2, CHRISTMAS_EVE, "tue")[:10] == expected


def test_weekly_on_tuesday_and_thursday_for_five_weeks(instants):
    """COUNT=10;BYDAY=TU,TH ==> September 2,4,9,11,16,18,23,25,30; October 2."""
    expected = [*on(9, 2, 4, 9, 11, 16, 18, 23, 25, 30), *on(10, 2)]
    assert instants(SEPTEMBER_2, CHRISTMAS_EVE, "tue", "thu")[:10] == expected


def test_every_other_week_on_three_weekdays(instants):
    """INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR from September 1.

    Here the weeks between are ranges of the calendar.
    """
    first_between = date(1997, 9, 7)  # a Sunday
    between = ""
    for number in range(8):
        sunday = first_between + timedelta(days=14 * number)
        saturday = sunday + timedelta(days=6)
        between += f'[[calendar]]\nfrom = {sunday}\nuntil = {saturday}\nplan = "none"\n'
    expected = [
        *on(9, 1, 3, 5, 15, 17, 19, 29),
        *on(10, 1, 3, 13, 15, 17, 27, 29, 31),
        *on(11, 10, 12, 14, 24, 26, 28),
        *on(12, 8, 10, 12, 22),
    ]
    start = datetime(1997, 9, 1, 4, tzinfo=UTC)
    assert instants(start, CHRISTMAS_EVE, "mon", "wed", "fri", more=between) == expected


def test_every_quarter_of_an_hour_for_six_occurrences(instants):
    """FREQ=MINUTELY;INTERVAL=15;COUNT=6 ==> 09:00,09:15,09:30,09:45,10:00,10:15."""
    times = ("09:00", "09:15", "09:30", "09:45", "10:00", "10:15")
    end = SEPTEMBER_2 + timedelta(days=1)
    first = nine_o_clock(date(1997, 9, 2))
    expected = [first + timedelta(minutes=15 * number) for number in range(6)]
    assert instants(SEPTEMBER_2, end, "tue", at=times) == expected


def test_a_date_that_does_not_follow_the_week(instants):
    """RDATE and EXDATE: the calendar adds a date, and takes one away. RFC 5545 §3.8.5.1, .2."""
    more = (
        '[[calendar]]\non = 1997-09-04\nplan = "nine"\n[[calendar]]\non = 1997-09-09\nplan = "none"'
    )
    end = datetime(1997, 9, 17, 4, tzinfo=UTC)
    assert instants(SEPTEMBER_2, end, "tue", more=more) == on(9, 2, 4, 16)
