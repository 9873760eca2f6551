"""Whatever the bytes of a calendar file are, it is read or refused in words."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta

from hypothesis import example, given, settings
from hypothesis import strategies as st
from ics_texts import HALIFAX, SCHOOL_YEAR, TODAY, file_of

from controller.editing.calendar_in import (
    LOOK_AHEAD_DAYS,
    LOOK_BACK_DAYS,
    CalendarRefused,
    read_calendar,
)

LINES = SCHOOL_YEAR.split(b"\r\n")
# Dates, rules and frames as they are written by mistake.
ODD = st.sampled_from(
    [
        b"RRULE:FREQ=DAILY",
        b"RRULE:FREQ=WEEKLY;COUNT=99999999",
        b"RRULE:FREQ=MONTHLY;BYDAY=9MO",
        b";UNTIL=2027",
        b";INTERVAL=-1",
        b";BYMONTHDAY=-32",
        b"DURATION:-P3D",
        b"DURATION:P99999999D",
        b"DTEND:19000101",
        b"RDATE;VALUE=PERIOD:20270101T000000Z/PT5H",
        b"RDATE:20270101,20270102T000000",
        b"EXDATE:20270101T000000Z",
        b"RECURRENCE-ID:20270101T000000Z",
        b"SEQUENCE:x",
        b"STATUS:CANCELLED",
        b"BEGIN:VEVENT",
        b"END:VEVENT",
        b"BEGIN:VTIMEZONE",
        b"END:VTIMEZONE",
        b"TZOFFSETTO:abc",
        b"DTSTART:99991231T235959Z",
        b"DTSTART:00010101",
        b"X-WR-TIMEZONE:../hall",
        b"\xff\xfe",
        b"\x00",
        b" ",
    ]
)


def reads_or_refuses(content: bytes) -> None:
    with suppress(CalendarRefused):
        calendar = read_calendar(content, HALIFAX, TODAY)
        for one in calendar.occurrences:
            assert one.first <= one.last
            assert one.last >= TODAY - timedelta(LOOK_BACK_DAYS)
            assert one.first <= TODAY + timedelta(LOOK_AHEAD_DAYS)
            assert one.uid in calendar.uids
            assert "\n" not in one.summary + one.uid
        assert all(one.why and one.uid in calendar.uids for one in calendar.unread)


@given(st.binary(max_size=400))
@example(b"BEGIN:VCALENDAR")
@example(b"BEGIN:VCALENDAR\nEND:VCALENDAR")
def test_any_bytes(content):
    reads_or_refuses(content)
    reads_or_refuses(b"BEGIN:VCALENDAR\r\n" + content + b"\r\nEND:VCALENDAR\r\n")


@given(
    st.lists(
        st.one_of(st.text(max_size=40), ODD.map(lambda odd: odd.decode("latin-1"))), max_size=8
    )
)
def test_any_lines_in_an_event(lines):
    reads_or_refuses(file_of(("BEGIN:VEVENT", "UID:1", "DTSTART:20261201", *lines, "END:VEVENT")))


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(
            st.integers(0, len(LINES) - 1), st.sampled_from(["put", "append", "drop", "bend"]), ODD
        ),
        min_size=1,
        max_size=5,
    )
)
def test_a_school_year_with_lines_put_in_bent_and_lost(changes):
    lines = list(LINES)
    for place, how, odd in changes:
        place %= len(lines)
        match how:
            case "put":
                lines.insert(place, odd)
            case "append":
                lines[place] += odd
            case "drop":
                del lines[place]
            case "bend":
                lines[place] = lines[place][: len(lines[place]) // 2] + odd[:1]
    reads_or_refuses(b"\r\n".join(lines))
