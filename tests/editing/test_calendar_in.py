"""Which dates the events of a calendar file have in this building."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from ics_texts import HALIFAX, SCHOOL_YEAR, TODAY, event, file_of, read_of, spans

from controller.building.civil import CivilTime
from controller.editing import calendar_in
from controller.editing.calendar_in import (
    LOOK_AHEAD_DAYS,
    LOOK_BACK_DAYS,
    CalendarRefused,
    read_calendar,
)

# ── all-day events ───────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("lines", "dates"),
    [
        (["DTSTART;VALUE=DATE:20261201"], "2026-12-01"),
        (["DTSTART;VALUE=DATE:20261201", "DTEND;VALUE=DATE:20261202"], "2026-12-01"),
        (["DTSTART;VALUE=DATE:20261201", "DTEND;VALUE=DATE:20261204"], "2026-12-01…2026-12-03"),
        (["DTSTART;VALUE=DATE:20261201", "DURATION:P2D"], "2026-12-01…2026-12-02"),
        (["DTSTART;VALUE=DATE:20261201", "DURATION:P1W"], "2026-12-01…2026-12-07"),
        (["DTSTART;VALUE=DATE:20261201", "DTEND;VALUE=DATE:20261201"], "2026-12-01"),
        (["DTSTART:20261201"], "2026-12-01"),
    ],
    ids=["no end", "a day", "three days", "P2D", "P1W", "ends as it begins", "no VALUE"],
)
def test_an_all_day_event_ends_before_its_dtend(lines, dates):
    calendar = read_of(event(*lines))
    assert spans(calendar) == [dates]
    assert not calendar.occurrences[0].timed


# ── events with times of day ─────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("lines", "dates"),
    [
        (["DTSTART:20261201T090000", "DTEND:20261201T100000"], "2026-12-01"),
        (["DTSTART:20261201T220000", "DTEND:20261202T010000"], "2026-12-01…2026-12-02"),
        (["DTSTART:20261201T200000", "DTEND:20261202T000000"], "2026-12-01"),
        (["DTSTART:20261201T090000"], "2026-12-01"),
        (["DTSTART:20261201T090000", "DURATION:PT26H"], "2026-12-01…2026-12-02"),
        # 03:30 UTC is 23:30 of the day before at UTC−4
        (["DTSTART:20261201T033000Z", "DTEND:20261201T034500Z"], "2026-11-30"),
        (["DTSTART;TZID=Europe/Oslo:20261201T020000", "DURATION:PT1H"], "2026-11-30"),
        (["DTSTART;TZID=Pacific/Auckland:20261201T120000", "DURATION:PT1H"], "2026-11-30"),
    ],
    ids=[
        "a lesson",
        "over midnight",
        "until midnight",
        "no end",
        "26 h",
        "UTC",
        "Oslo",
        "Auckland",
    ],
)
def test_an_event_with_times_touches_the_dates_of_the_buildings_own_clock(lines, dates):
    calendar = read_of(event(*lines))
    assert spans(calendar) == [dates]
    assert calendar.occurrences[0].timed


def test_a_time_without_a_zone_is_the_buildings_own_wherever_that_is():
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago", "Europe/Oslo"):
        late = event("DTSTART:20261201T233000", "DURATION:PT10M")
        assert spans(read_of(late, civil=CivilTime(zone))) == ["2026-12-01"]


def test_a_zone_that_nobody_knows_is_taken_as_the_buildings_own():
    late = event("DTSTART;TZID=Nowhere/Hall:20261201T233000", "DURATION:PT10M")
    assert spans(read_of(late)) == ["2026-12-01"]


def test_x_wr_timezone_says_where_the_calendars_times_are():
    late = event("DTSTART:20261201T233000", "DURATION:PT10M")
    assert spans(read_of(late, head=("X-WR-TIMEZONE:Europe/Oslo",))) == ["2026-12-01"]
    early = event("DTSTART:20261201T013000", "DURATION:PT10M")
    assert spans(read_of(early, head=("X-WR-TIMEZONE:Europe/Oslo",))) == ["2026-11-30"]
    assert spans(read_of(early, head=("X-WR-TIMEZONE:Nowhere/Hall",))) == ["2026-12-01"]


def test_a_weekly_event_keeps_its_local_time_over_a_clock_change():
    # 23:30 in Halifax, at UTC−3 until 1 November 2026 and at UTC−4 after it.
    weekly = event(
        "DTSTART;TZID=America/Halifax:20261020T233000",
        "DURATION:PT20M",
        "RRULE:FREQ=WEEKLY;COUNT=4",
    )
    assert spans(read_of(weekly)) == ["2026-10-20", "2026-10-27", "2026-11-03", "2026-11-10"]


# ── series ───────────────────────────────────────────────────────────────────────────────────────


def test_a_series_with_exceptions_and_dates_beside_it():
    calendar = read_of(
        event(
            "DTSTART;VALUE=DATE:20261201",
            "RRULE:FREQ=WEEKLY;COUNT=4",
            "EXDATE;VALUE=DATE:20261208",
            "RDATE;VALUE=DATE:20261210",
        )
    )
    assert spans(calendar) == ["2026-12-01", "2026-12-10", "2026-12-15", "2026-12-22"]


def test_an_instance_that_was_moved_is_where_it_was_moved_to():
    calendar = read_of(
        event("DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=WEEKLY;COUNT=3", "SUMMARY:Quiz"),
        event("RECURRENCE-ID;VALUE=DATE:20261208", "DTSTART;VALUE=DATE:20261209", "SUMMARY:Late"),
    )
    assert spans(calendar) == ["2026-12-01", "2026-12-09", "2026-12-15"]
    assert [one.summary for one in calendar.occurrences] == ["Quiz", "Late", "Quiz"]
    assert calendar.events == 2
    assert calendar.uids == {"1@elm.example"}


def test_from_one_instance_on_all_are_moved():
    calendar = read_of(
        event("DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=WEEKLY;COUNT=3"),
        event(
            "RECURRENCE-ID;VALUE=DATE;RANGE=THISANDFUTURE:20261208", "DTSTART;VALUE=DATE:20261210"
        ),
    )
    assert spans(calendar) == ["2026-12-01", "2026-12-10", "2026-12-17"]


def test_an_instance_or_a_whole_event_that_is_cancelled_is_seen_to_be():
    calendar = read_of(
        event("DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=WEEKLY;COUNT=3"),
        event(
            "RECURRENCE-ID;VALUE=DATE:20261208", "DTSTART;VALUE=DATE:20261208", "STATUS:CANCELLED"
        ),
        event("DTSTART;VALUE=DATE:20261224", "STATUS:cancelled", uid="2@elm.example"),
    )
    assert spans(calendar) == ["2026-12-01", "2026-12-15"]
    assert [one.first.day for one in calendar.occurrences if one.cancelled] == [8, 24]


def test_a_file_that_takes_its_events_back_has_none():
    calendar = read_of(event("DTSTART;VALUE=DATE:20261201"), head=("METHOD:CANCEL",))
    assert spans(calendar) == []


# ── how far is looked ────────────────────────────────────────────────────────────────────────────


def test_an_event_without_an_end_reaches_as_far_as_is_looked():
    calendar = read_of(event("DTSTART;VALUE=DATE:20200101", "RRULE:FREQ=DAILY"))
    assert calendar.occurrences[0].first == TODAY - timedelta(LOOK_BACK_DAYS)
    assert calendar.occurrences[-1].last == TODAY + timedelta(LOOK_AHEAD_DAYS)
    assert len(calendar.occurrences) == LOOK_BACK_DAYS + LOOK_AHEAD_DAYS + 1


def test_a_stretch_that_began_long_ago_keeps_its_beginning():
    calendar = read_of(event("DTSTART;VALUE=DATE:20200101", "DTEND;VALUE=DATE:20270105"))
    assert spans(calendar) == ["2020-01-01…2027-01-04"]


# ── texts ────────────────────────────────────────────────────────────────────────────────────────


def test_texts_are_unfolded_unescaped_and_on_one_line():
    calendar = read_of(
        event(
            "DTSTART;VALUE=DATE:20261201",
            "SUMMARY:Carols\\, tea\\; and",
            "  a very long\\nevening",
            "CATEGORIES:School closed,Early\\, late",
            "CATEGORIES:Third",
        ),
        head=("NAME:Year\\n2026",),
    )
    (one,) = calendar.occurrences
    assert one.summary == "Carols, tea; and a very long evening"
    assert one.categories == ("School closed", "Early, late", "Third")
    assert calendar.name == "Year 2026"


def test_a_text_too_long_for_the_file_is_cut():
    calendar = read_of(event("DTSTART;VALUE=DATE:20261201", f"SUMMARY:{'long ' * 100}"))
    assert len(calendar.occurrences[0].summary) == 200


def test_an_event_without_a_uid_or_with_a_very_long_one_is_known_again():
    without = tuple(line for line in event("DTSTART;VALUE=DATE:20261201") if "UID" not in line)
    long = event("DTSTART;VALUE=DATE:20261202", uid="0" * 300)
    first, again = (read_of(without, long) for _ in range(2))
    assert first == again
    assert len(first.uids) == 2
    assert max(map(len, first.uids)) < 100


# ── what cannot be read ──────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        (["SUMMARY:When?"], "no DTSTART"),
        (["DTSTART;VALUE=DATE:20261301"], "DTSTART cannot be read"),
        (["DTSTART;VALUE=DATE:20261201", "DTEND:yesterday"], "DTEND cannot be read"),
        (["DTSTART;VALUE=DATE:20261201", "EXDATE:whenever"], "EXDATE cannot be read"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=SOMETIMES"], "RRULE cannot be read"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:whenever"], "RRULE has no FREQ"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=DAILY;INTERVAL=0"], "INTERVAL below 1"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=DAILY;BYSETPOS=0"], "has BYSETPOS=0"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=DAILY;BYMONTHDAY=32"], "has BYMONTHDAY=32"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"], "no date"),
        (["DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=YEARLY;UNTIL=2027"], "RRULE cannot be read"),
        (["DTSTART;VALUE=DATE:20261201", "DURATION:P9999999D"], "make no sense"),
        (["DTSTART:20261201T090000", "RRULE:FREQ=HOURLY"], "recurs by the hour"),
        (["DTSTART:20261201T090000", "RRULE:FREQ=MINUTELY;COUNT=3"], "recurs by the minute"),
        (["DTSTART:20261201T090000", "RRULE:FREQ=SECONDLY"], "recurs by the second"),
        (["DTSTART;VALUE=DATE:20261201", "DTSTART;VALUE=DATE:20261202"], "more than once"),
        (["DTSTART;VALUE=DATE:00010101"], "begins before 1970"),
        (["DTSTART;VALUE=DATE:20261201", "no property at all"], "a line of it cannot be read"),
    ],
)
def test_an_event_that_cannot_be_read_is_named_and_hides_no_other(lines, why):
    calendar = read_of(
        event(*lines, "SUMMARY:Broken"), event("DTSTART;VALUE=DATE:20261224", uid="2@elm.example")
    )
    (unread,) = calendar.unread
    assert unread.uid == "1@elm.example"
    assert why in unread.why
    assert spans(calendar) == ["2026-12-24"]


def test_two_events_under_one_uid_are_not_taken_for_one():
    twice = [event(f"DTSTART;VALUE=DATE:2026120{day}", "SUMMARY:Fair") for day in (1, 2)]
    (unread,) = read_of(*twice).unread
    assert "2 events have this UID" in unread.why
    assert spans(read_of(twice[0], twice[0])) == ["2026-12-01"], "the same one, copied"
    newer = event("DTSTART;VALUE=DATE:20261203", "SUMMARY:Fair", "SEQUENCE:1")
    assert spans(read_of(twice[0], newer)) == ["2026-12-03"], "a revision, RFC 5545 3.8.7.4"


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "no calendar file"),
        (b"<html><body>Sign in</body></html>", "no calendar file"),
        (SCHOOL_YEAR[:-100], "cut off"),
        (SCHOOL_YEAR + SCHOOL_YEAR[:2000], "cut off"),
        (b"BEGIN:VCALENDAR\r\n" * 3000 + b"END:VCALENDAR\r\n", "damaged"),
        (b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nEND:VCALENDAR\r\n", "damaged"),
        (b"BEGIN:VCALENDAR\r\n\xff\xfe=\r\nEND:VCALENDAR\r\n", "no calendar that can be read"),
        (b"x" * (calendar_in.MOST_BYTES + 1), "too large"),
    ],
    ids=["empty", "a web page", "cut", "second cut", "nested", "not ended", "bytes", "large"],
)
def test_a_file_that_is_no_calendar_is_refused_in_words(content, why):
    with pytest.raises(CalendarRefused, match=why):
        read_calendar(content, HALIFAX, TODAY)


def test_too_many_events_and_too_many_dates_are_refused(monkeypatch):
    monkeypatch.setattr(calendar_in, "MOST_EVENTS", 2)
    with pytest.raises(CalendarRefused, match="3 events"):
        read_of(*(event("DTSTART;VALUE=DATE:20261201", uid=f"{n}@x") for n in range(3)))
    monkeypatch.setattr(calendar_in, "MOST_OCCURRENCES", 100)
    with pytest.raises(CalendarRefused, match="more than 100 dates"):
        read_of(event("DTSTART;VALUE=DATE:20261201", "RRULE:FREQ=DAILY"))


def test_line_ends_a_byte_order_mark_and_several_calendars_do_no_harm():
    one = file_of(event("DTSTART;VALUE=DATE:20261201"))
    other = file_of(event("DTSTART;VALUE=DATE:20261202", uid="2@elm.example"))
    content = b"\xef\xbb\xbf" + one.replace(b"\r\n", b"\n") + other
    assert spans(read_calendar(content, HALIFAX, TODAY)) == ["2026-12-01", "2026-12-02"]


def test_what_is_no_event_is_counted():
    calendar = read_calendar(SCHOOL_YEAR, HALIFAX, TODAY)
    assert (calendar.events, calendar.others, calendar.unread) == (45, 1, ())
    assert calendar.name == "Marrow Lane School year"
    assert all(one.last >= date(2025, 1, 1) for one in calendar.occurrences)
