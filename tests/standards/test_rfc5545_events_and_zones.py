"""RFC 5545 §3.6.1, §3.6.5 and §3.4 (September 2009): its own events and time zones, imported."""

from __future__ import annotations

from datetime import date

import pytest

from controller.building.civil import CivilTime
from controller.editing.calendar_in import CalendarFile, read_calendar

MONTREAL = CivilTime("America/Montreal")


def read(body: str, today: date, civil: CivilTime = MONTREAL) -> CalendarFile:
    text = f"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//x//EN\n{body.strip()}\nEND:VCALENDAR\n"
    return read_calendar(text.replace("\n", "\r\n").encode(), civil, today)


# ── §3.6.1 ───────────────────────────────────────────────────────────────────────────────────────

JAZZ = """
BEGIN:VEVENT
UID:20070423T123432Z-541111@example.com
DTSTAMP:20070423T123432Z
DTSTART;VALUE=DATE:20070628
DTEND;VALUE=DATE:20070709
SUMMARY:Festival International de Jazz de Montreal
TRANSP:TRANSPARENT
END:VEVENT
"""


def test_a_festival_from_june_28_to_july_8_inclusively():
    """ "Note that the "DTEND" property is set to July 9th, 2007"."""
    (festival,) = read(JAZZ, date(2007, 6, 1)).occurrences
    assert (festival.first, festival.last) == (date(2007, 6, 28), date(2007, 7, 8))
    assert not festival.timed


ANNIVERSARY = """
BEGIN:VEVENT
UID:19970901T130000Z-123403@example.com
DTSTAMP:19970901T130000Z
DTSTART;VALUE=DATE:19971102
SUMMARY:Our Blissful Anniversary
TRANSP:TRANSPARENT
CLASS:CONFIDENTIAL
CATEGORIES:ANNIVERSARY,PERSONAL,SPECIAL OCCASION
RRULE:FREQ=YEARLY
END:VEVENT
"""


def test_an_anniversary_that_will_occur_annually():
    calendar = read(ANNIVERSARY, date(2026, 11, 28))
    found = [one.first for one in calendar.occurrences]
    assert found == [date(year, 11, 2) for year in (2025, 2026, 2027, 2028)]
    assert calendar.occurrences[0].categories == ("ANNIVERSARY", "PERSONAL", "SPECIAL OCCASION")
    assert calendar.occurrences[0].first == calendar.occurrences[0].last


REVIEW = """
BEGIN:VEVENT
UID:19970901T130000Z-123401@example.com
DTSTAMP:19970901T130000Z
DTSTART:19970903T163000Z
DTEND:19970903T190000Z
SUMMARY:Annual Employee Review
CLASS:PRIVATE
CATEGORIES:BUSINESS,HUMAN RESOURCES
END:VEVENT
"""
PARTY = """
BEGIN:VEVENT
UID:19970610T172345Z-AF23B2@example.com
DTSTAMP:19970610T172345Z
DTSTART:19970714T170000Z
DTEND:19970715T040000Z
SUMMARY:Bastille Day Party
END:VEVENT
"""


@pytest.mark.parametrize(
    ("body", "zone", "first", "last"),
    [
        (REVIEW, "America/New_York", (9, 3), (9, 3)),
        (REVIEW, "Pacific/Auckland", (9, 4), (9, 4)),
        # §3.4: 04:00 UTC is midnight in New York, and its end is not in it; 06:00 in Paris
        (PARTY, "America/New_York", (7, 14), (7, 14)),
        (PARTY, "Europe/Paris", (7, 14), (7, 15)),
    ],
)
def test_instants_are_dates_of_the_building(body, zone, first, last):
    (one,) = read(body, date(1997, 6, 1), CivilTime(zone)).occurrences
    assert one.timed
    assert (one.first, one.last) == (date(1997, *first), date(1997, *last))


# ── §3.6.5 ───────────────────────────────────────────────────────────────────────────────────────

# Its last example: daylight time in New York's way until 1998 and again from 24 April 1999 on.
FICTITIOUS = """
BEGIN:VTIMEZONE
TZID:Fictitious
LAST-MODIFIED:19870101T000000Z
BEGIN:STANDARD
DTSTART:19671029T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
TZNAME:EST
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:19870405T020000
RRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=4;UNTIL=19980404T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
BEGIN:DAYLIGHT
DTSTART:19990424T020000
RRULE:FREQ=YEARLY;BYDAY=-1SU;BYMONTH=4
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
END:VTIMEZONE
"""


@pytest.mark.parametrize(
    ("day", "offset_hours"),
    [
        ("19970301", -5),
        ("19970701", -4),
        ("19971201", -5),
        ("20000415", -5),  # before the last Sunday of April
        ("20000501", -4),
        ("20001115", -5),
    ],
)
def test_a_zone_that_the_file_itself_defines(day, offset_hours):
    """At midnight UTC less the offset begins the building's next day, where it keeps UTC."""
    last = 24 + offset_hours - 1
    found = []
    for hour in (last, last + 1):
        body = f"""{FICTITIOUS.strip()}
BEGIN:VEVENT
UID:1@example.com
DTSTAMP:19970901T130000Z
DTSTART;TZID=Fictitious:{day}T{hour:02}3000
DURATION:PT10M
END:VEVENT
"""
        on = date.fromisoformat(day)
        (one,) = read(body, on, CivilTime("UTC")).occurrences
        found.append((one.first - on).days)
    assert found == [0, 1]


NEW_YORK = """
BEGIN:VTIMEZONE
TZID:America/New_York
LAST-MODIFIED:20050809T050000Z
BEGIN:STANDARD
DTSTART:20071104T020000
RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
TZNAME:EST
END:STANDARD
BEGIN:DAYLIGHT
DTSTART:20070311T020000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
TZNAME:EDT
END:DAYLIGHT
END:VTIMEZONE
BEGIN:VEVENT
UID:1@example.com
DTSTAMP:20070101T000000Z
DTSTART;TZID=America/New_York:20071028T193000
DURATION:PT10M
RRULE:FREQ=WEEKLY;COUNT=2
END:VEVENT
"""


def test_a_series_over_new_yorks_change_of_2007():
    """19:30 is 23:30 UTC in daylight time and 00:30 UTC of the next day after 4 November."""
    calendar = read(NEW_YORK, date(2007, 10, 1), CivilTime("UTC"))
    assert [one.first for one in calendar.occurrences] == [date(2007, 10, 28), date(2007, 11, 5)]
