"""RFC 5545 §3.8.5.3 (September 2009): its worked examples, imported as a calendar file.

Each rule, its DTSTART and the dates that the RFC prints for it, all at 09:00 America/New_York.
Where the RFC ends a list with "..." the dates are held up to the last one printed. An import knows
dates, not times of day, and leaves events out that recur by the hour or minute; so the RFC's
examples of those (of which one is a known erratum, from memory) are only seen to be left out.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from dateutil.rrule import rrulestr
from hypothesis import given
from hypothesis import strategies as st

from controller.building.civil import CivilTime
from controller.editing.calendar_in import CalendarFile, read_calendar

NEW_YORK = CivilTime("America/New_York")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def read(dtstart: str, *lines: str, today: date) -> CalendarFile:
    return read_calendar(
        "\r\n".join(
            [
                "BEGIN:VCALENDAR",
                "VERSION:2.0",
                "PRODID:-//Examples//EN",
                "BEGIN:VEVENT",
                "UID:1@example.com",
                "DTSTAMP:19970901T130000Z",
                dtstart,
                *lines,
                "END:VEVENT",
                "END:VCALENDAR",
                "",
            ]
        ).encode(),
        NEW_YORK,
        today,
    )


def dates(dtstart: str, *lines: str, until: date) -> list[date]:
    """The dates from 1996 on, put together from looks of 800 days."""
    found: set[date] = set()
    today = date(1996, 1, 1)
    while today <= until:
        calendar = read(dtstart, *lines, today=today)
        assert not calendar.unread
        assert all(one.first == one.last for one in calendar.occurrences)
        found.update(one.first for one in calendar.occurrences)
        today += timedelta(800)
    return sorted(day for day in found if day <= until)


def printed(text: str) -> list[date]:
    """ "1997 Sep 2-4 9; 1998 Jan 2": the dates of the RFC's lists."""
    found: list[date] = []
    year = month = 0
    for word in text.replace(";", " ").split():
        if word in MONTHS:
            month = MONTHS.index(word) + 1
        elif len(word) == 4 and word.isdigit():
            year = int(word)
        else:
            first, _, last = word.partition("-")
            found += [date(year, month, day) for day in range(int(first), int(last or first) + 1)]
    return found


# (DTSTART, other lines, the RFC's dates); "…" ends a list that the RFC goes on with "...".
EXAMPLES = {
    "daily for 10 occurrences": ("19970902", "FREQ=DAILY;COUNT=10", "1997 Sep 2-11"),
    "daily until December 24, 1997": (
        "19970902",
        "FREQ=DAILY;UNTIL=19971224T000000Z",
        "1997 Sep 2-30 Oct 1-31 Nov 1-30 Dec 1-23",
    ),
    "every other day": (
        "19970902",
        "FREQ=DAILY;INTERVAL=2",
        "1997 Sep 2 4 6 8 10 12 14 16 18 20 22 24 26 28 30 "
        "Oct 2 4 6 8 10 12 14 16 18 20 22 24 26 28 30 "
        "Nov 1 3 5 7 9 11 13 15 17 19 21 23 25 27 29 Dec 1 3 …",
    ),
    "every 10 days, 5 occurrences": (
        "19970902",
        "FREQ=DAILY;INTERVAL=10;COUNT=5",
        "1997 Sep 2 12 22 Oct 2 12",
    ),
    "every day in January, for 3 years, yearly": (
        "19980101",
        "FREQ=YEARLY;UNTIL=20000131T140000Z;BYMONTH=1;BYDAY=SU,MO,TU,WE,TH,FR,SA",
        "1998 Jan 1-31 1999 Jan 1-31 2000 Jan 1-31",
    ),
    "every day in January, for 3 years, daily": (
        "19980101",
        "FREQ=DAILY;UNTIL=20000131T140000Z;BYMONTH=1",
        "1998 Jan 1-31 1999 Jan 1-31 2000 Jan 1-31",
    ),
    "weekly for 10 occurrences": (
        "19970902",
        "FREQ=WEEKLY;COUNT=10",
        "1997 Sep 2 9 16 23 30 Oct 7 14 21 28 Nov 4",
    ),
    "weekly until December 24, 1997": (
        "19970902",
        "FREQ=WEEKLY;UNTIL=19971224T000000Z",
        "1997 Sep 2 9 16 23 30 Oct 7 14 21 28 Nov 4 11 18 25 Dec 2 9 16 23",
    ),
    "every other week": (
        "19970902",
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU",
        "1997 Sep 2 16 30 Oct 14 28 Nov 11 25 Dec 9 23 1998 Jan 6 20 Feb 3 17 …",
    ),
    "Tuesday and Thursday for five weeks, until": (
        "19970902",
        "FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH",
        "1997 Sep 2 4 9 11 16 18 23 25 30 Oct 2",
    ),
    "Tuesday and Thursday for five weeks, count": (
        "19970902",
        "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
        "1997 Sep 2 4 9 11 16 18 23 25 30 Oct 2",
    ),
    "every other week on Monday, Wednesday, Friday": (
        "19970901",
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "1997 Sep 1 3 5 15 17 19 29 Oct 1 3 13 15 17 27 29 31 Nov 10 12 14 24 26 28 Dec 8 10 12 22",
    ),
    "every other week on Tuesday and Thursday, 8": (
        "19970902",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        "1997 Sep 2 4 16 18 30 Oct 2 14 16",
    ),
    "first Friday for 10 occurrences": (
        "19970905",
        "FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "1997 Sep 5 Oct 3 Nov 7 Dec 5 1998 Jan 2 Feb 6 Mar 6 Apr 3 May 1 Jun 5",
    ),
    "first Friday until December 24, 1997": (
        "19970905",
        "FREQ=MONTHLY;UNTIL=19971224T000000Z;BYDAY=1FR",
        "1997 Sep 5 Oct 3 Nov 7 Dec 5",
    ),
    "first and last Sunday of every other month": (
        "19970907",
        "FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
        "1997 Sep 7 28 Nov 2 30 1998 Jan 4 25 Mar 1 29 May 3 31",
    ),
    "second-to-last Monday for 6 months": (
        "19970922",
        "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
        "1997 Sep 22 Oct 20 Nov 17 Dec 22 1998 Jan 19 Feb 16",
    ),
    "third-to-the-last day of the month": (
        "19970928",
        "FREQ=MONTHLY;BYMONTHDAY=-3",
        "1997 Sep 28 Oct 29 Nov 28 Dec 29 1998 Jan 29 Feb 26 …",
    ),
    "2nd and 15th of the month": (
        "19970902",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        "1997 Sep 2 15 Oct 2 15 Nov 2 15 Dec 2 15 1998 Jan 2 15",
    ),
    "first and last day of the month": (
        "19970930",
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
        "1997 Sep 30 Oct 1 31 Nov 1 30 Dec 1 31 1998 Jan 1 31 Feb 1",
    ),
    "every 18 months on the 10th thru 15th": (
        "19970910",
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        "1997 Sep 10-15 1999 Mar 10-13",
    ),
    "every Tuesday, every other month": (
        "19970902",
        "FREQ=MONTHLY;INTERVAL=2;BYDAY=TU",
        "1997 Sep 2 9 16 23 30 Nov 4 11 18 25 1998 Jan 6 13 20 27 Mar 3 10 17 24 31 …",
    ),
    "yearly in June and July": (
        "19970610",
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "1997 Jun 10 Jul 10 1998 Jun 10 Jul 10 1999 Jun 10 Jul 10 2000 Jun 10 Jul 10 "
        "2001 Jun 10 Jul 10",
    ),
    "every other year in January, February, March": (
        "19970310",
        "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3",
        "1997 Mar 10 1999 Jan 10 Feb 10 Mar 10 2001 Jan 10 Feb 10 Mar 10 2003 Jan 10 Feb 10 Mar 10",
    ),
    "every third year on the 1st, 100th, 200th day": (
        "19970101",
        "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200",
        "1997 Jan 1 Apr 10 Jul 19 2000 Jan 1 Apr 9 Jul 18 2003 Jan 1 Apr 10 Jul 19 2006 Jan 1",
    ),
    "every 20th Monday of the year": (
        "19970519",
        "FREQ=YEARLY;BYDAY=20MO",
        "1997 May 19 1998 May 18 1999 May 17 …",
    ),
    "Monday of week number 20": (
        "19970512",
        "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO",
        "1997 May 12 1998 May 11 1999 May 17 …",
    ),
    "every Thursday in March": (
        "19970313",
        "FREQ=YEARLY;BYMONTH=3;BYDAY=TH",
        "1997 Mar 13 20 27 1998 Mar 5 12 19 26 1999 Mar 4 11 18 25 …",
    ),
    "every Thursday in June, July and August": (
        "19970605",
        "FREQ=YEARLY;BYDAY=TH;BYMONTH=6,7,8",
        "1997 Jun 5 12 19 26 Jul 3 10 17 24 31 Aug 7 14 21 28 "
        "1998 Jun 4 11 18 25 Jul 2 9 16 23 30 Aug 6 13 20 27 "
        "1999 Jun 3 10 17 24 Jul 1 8 15 22 29 Aug 5 12 19 26 …",
    ),
    "first Saturday that follows the first Sunday": (
        "19970913",
        "FREQ=MONTHLY;BYDAY=SA;BYMONTHDAY=7,8,9,10,11,12,13",
        "1997 Sep 13 Oct 11 Nov 8 Dec 13 1998 Jan 10 Feb 7 Mar 7 Apr 11 May 9 Jun 13 …",
    ),
    "every 4 years, Tuesday after a Monday in November": (
        "19961105",
        "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
        "1996 Nov 5 2000 Nov 7 2004 Nov 2 …",
    ),
    "third of Tuesday, Wednesday, Thursday": (
        "19970904",
        "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
        "1997 Sep 4 Oct 7 Nov 6",
    ),
    "second-to-last weekday of the month": (
        "19970929",
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2",
        "1997 Sep 29 Oct 30 Nov 27 Dec 30 1998 Jan 29 Feb 26 Mar 30 …",
    ),
    "WKST=MO": (
        "19970805",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        "1997 Aug 5 10 19 24",
    ),
    "WKST=SU": (
        "19970805",
        "FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        "1997 Aug 5 17 19 31",
    ),
    "an invalid date is ignored": (
        "20070115",
        "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
        "2007 Jan 15 30 Feb 15 Mar 15 30",
    ),
}


@pytest.mark.parametrize(("start", "rule", "listed"), EXAMPLES.values(), ids=EXAMPLES)
def test_the_rfcs_dates(start, rule, listed):
    goes_on = listed.endswith("…")
    expected = printed(listed.removesuffix("…"))
    until = expected[-1] if goes_on else date(2010, 1, 1)
    dtstart = f"DTSTART;TZID=America/New_York:{start}T090000"
    assert dates(dtstart, f"RRULE:{rule}", until=until) == expected


def test_every_friday_the_13th_without_its_beginning():
    """With EXDATE at DTSTART itself."""
    found = dates(
        "DTSTART;TZID=America/New_York:19970902T090000",
        "EXDATE;TZID=America/New_York:19970902T090000",
        "RRULE:FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        until=date(2000, 10, 13),
    )
    assert found == printed("1998 Feb 13 Mar 13 Nov 13 1999 Aug 13 2000 Oct 13")


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T170000Z",
        "FREQ=MINUTELY;INTERVAL=15;COUNT=6",
        "FREQ=MINUTELY;INTERVAL=90;COUNT=4",
        "FREQ=MINUTELY;INTERVAL=20;BYHOUR=9,10,11,12,13,14,15,16",
    ],
)
def test_what_recurs_within_the_day_is_left_out_and_said(rule):
    dtstart = "DTSTART;TZID=America/New_York:19970902T090000"
    calendar = read(dtstart, f"RRULE:{rule}", today=date(1997, 9, 1))
    assert not calendar.occurrences
    assert "recurs by the" in calendar.unread[0].why


def test_several_times_a_day_are_one_date_each():
    """Every 20 minutes from 9:00 AM to 4:40 PM every day: 24 on each date."""
    calendar = read(
        "DTSTART;TZID=America/New_York:19970902T090000",
        "RRULE:FREQ=DAILY;COUNT=48;BYHOUR=9,10,11,12,13,14,15,16;BYMINUTE=0,20,40",
        today=date(1997, 9, 1),
    )
    assert [one.first.day for one in calendar.occurrences] == [2] * 24 + [3] * 24


# ── against other readings ───────────────────────────────────────────────────────────────────────

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
TODAY = date(2026, 11, 28)
starts = st.integers(-300, 300).map(lambda days: TODAY + timedelta(days))


def imported(start: date, rule: str) -> list[date]:
    """An all-day event's dates from 400 days before today to 800 after it."""
    calendar = read(f"DTSTART;VALUE=DATE:{start:%Y%m%d}", f"RRULE:{rule}", today=TODAY)
    assert not calendar.unread
    return [one.first for one in calendar.occurrences]


@given(starts, st.integers(1, 5), st.sets(st.sampled_from(WEEKDAYS), min_size=1), st.booleans())
def test_weeks_against_plain_counting(start, interval, weekdays, from_sunday):
    """Written from §3.3.10: weeks are counted from the one, by WKST, that has DTSTART."""
    first = start.weekday() if not from_sunday else (start.weekday() + 1) % 7
    week_begins = start - timedelta(first)
    expected = [
        day
        for day in (start + timedelta(number) for number in range(1200))
        if (day - week_begins).days // 7 % interval == 0 and WEEKDAYS[day.weekday()] in weekdays
    ]
    expected = sorted({start, *expected})  # DTSTART counts, in the rule or not
    wkst = "SU" if from_sunday else "MO"
    rule = f"FREQ=WEEKLY;INTERVAL={interval};BYDAY={','.join(sorted(weekdays))};WKST={wkst}"
    low, high = TODAY - timedelta(400), TODAY + timedelta(800)
    assert imported(start, rule) == [day for day in expected if low <= day <= high]


@given(
    starts,
    st.sampled_from(["DAILY", "WEEKLY", "MONTHLY", "YEARLY"]),
    st.integers(1, 40),
    st.one_of(
        st.integers(1, 200).map("COUNT={}".format),
        st.integers(0, 900).map(lambda days: f"UNTIL={TODAY + timedelta(days):%Y%m%d}"),
        st.just(""),
    ),
    st.sampled_from(["", "BYDAY=MO,FR", "BYMONTHDAY=1,-1", "BYMONTH=1,6"]),
)
def test_rules_against_dateutil_alone(start, frequency, interval, end, by):
    rule = ";".join(filter(None, [f"FREQ={frequency}", f"INTERVAL={interval}", end, by]))
    low, high = TODAY - timedelta(400), TODAY + timedelta(800)
    alone = rrulestr(rule, dtstart=datetime(start.year, start.month, start.day))
    found = {
        one.date()
        for one in alone.between(
            datetime(low.year, low.month, low.day), datetime(high.year, high.month, high.day), True
        )
    }
    if not end.startswith("UNTIL") or end >= f"UNTIL={start:%Y%m%d}":
        found.add(start)  # DTSTART counts, in the rule or not
    assert imported(start, rule) == sorted(found)
