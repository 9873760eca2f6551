"""The calendar file that is written, read back by two libraries."""

from __future__ import annotations

from datetime import UTC, date, datetime

import vobject
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from controller.building.civil import utc_ns
from controller.editing.calendar_out import Moment, WholeDay, calendar_bytes

NOW = utc_ns(datetime(2026, 11, 28, 12, tzinfo=UTC))
AT = datetime(2026, 11, 30, 12, 30, tzinfo=UTC)


def moment(summary="Lunch", description="north 5s", seconds=5.0, at=AT) -> Moment:
    start = utc_ns(at)
    return Moment(start, start + round(seconds * 10**9), summary, description, ["north", "south"])


def written(*entries: Moment | WholeDay, name="Elm House") -> bytes:
    return calendar_bytes(name, entries, NOW)


def test_a_sounding_is_an_event_in_utc():
    text = written(moment()).decode()
    assert "DTSTART:20261130T123000Z\r\nDTEND:20261130T123005Z\r\n" in text
    assert "DTSTAMP:20261128T120000Z\r\n" in text
    assert "CATEGORIES:north,south\r\n" in text
    assert text.startswith("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:")
    assert text.endswith("END:VCALENDAR\r\n")


def test_a_part_of_a_second_counts_whole():
    assert b"DTEND:20261130T123003Z" in written(moment(seconds=2.5))
    assert b"DTEND:20261130T123001Z" in written(moment(seconds=0.4))


def test_a_day_is_a_date_that_ends_before_the_next():
    text = written(WholeDay(date(2026, 12, 31), "none", "", [])).decode()
    assert "DTSTART;VALUE=DATE:20261231\r\nDTEND;VALUE=DATE:20270101\r\n" in text
    assert "DESCRIPTION" not in text


def test_the_same_moment_has_the_same_uid_whatever_is_said_of_it():
    def uids(*entries, name="Elm House"):
        calendar = Calendar.from_ical(written(*entries, name=name))
        return [str(event["UID"]) for event in calendar.events]

    (first,) = uids(moment())
    assert uids(moment("Dinner", "south 9s", 9)) == [first]
    assert uids(moment(), name="Oak House") != [first]
    later = moment(at=AT.replace(minute=31))
    day = WholeDay(AT.date(), "none", "", [])
    assert len({*uids(moment(), later, day), first}) == 3
    assert first == "bef7dc5b-1e38-5a91-be9b-9c6c3f461556"  # a released UID never changes


texts = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1
).filter(lambda text: text == text.strip())


@given(texts, texts, st.lists(texts, max_size=3), texts)
def test_any_text_comes_back_whole_on_lines_of_75_octets(summary, line, categories, name):
    description = f"{line}\n{summary}"
    entry = Moment(utc_ns(AT), utc_ns(AT) + 10**9, summary, description, categories)
    content = written(entry, name=name)
    lines = content.split(b"\r\n")
    assert all(len(one) <= 75 for one in lines), "RFC 5545 3.1, without the line break"
    assert b"".join(lines).decode() == "".join(one.decode() for one in lines), "no letter is cut"
    (event,) = Calendar.from_ical(content).events
    assert str(event["SUMMARY"]) == summary
    assert str(event["DESCRIPTION"]) == description
    (second,) = vobject.readOne(content.decode()).vevent_list
    assert second.summary.value == summary
    assert second.description.value == description
    assert second.dtstart.value == AT
