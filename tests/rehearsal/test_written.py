"""The rehearsal record as JSON Lines (design section 6), and counted by date."""

from __future__ import annotations

import json
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.civil import SECOND, CivilTime
from controller.rehearsal.record import (
    EndRecord,
    ImpulseRecord,
    LineEnd,
    MissedRecord,
    RingRecord,
)
from controller.rehearsal.written import json_line, local_text, only, tally

HALIFAX = CivilTime("America/Halifax")
MILLISECOND = 1_000_000


def at(text: str) -> int:
    return HALIFAX.instant(datetime.fromisoformat(text))


HALF_PAST = at("2026-11-25T08:30")
RING = RingRecord(HALF_PAST, "north", HALF_PAST, 5 * SECOND, "First class", False, False, None)
IMPULSE = ImpulseRecord(HALF_PAST, "main", "+", "08:30", False, False, None)
MISSED = MissedRecord(HALF_PAST + 30 * SECOND, "south", HALF_PAST, "supply", None)
END = EndRecord(HALF_PAST + 60 * SECOND, 1, 1, 1, {"main": LineEnd(("08:31",), True, False)})


@pytest.mark.parametrize(
    ("record", "line"),
    [
        (
            RING,
            '{"at":"2026-11-25T08:30:00-04:00","event":"ring","zone":"north",'
            '"due":"2026-11-25T08:30:00-04:00","seconds":5.0,"says":"First class"}',
        ),
        (
            IMPULSE,
            '{"at":"2026-11-25T08:30:00-04:00","event":"impulse","line":"main","polarity":"+",'
            '"shows":"08:30"}',
        ),
        (
            MISSED,
            '{"at":"2026-11-25T08:30:30-04:00","event":"missed","zone":"south",'
            '"due":"2026-11-25T08:30:00-04:00","why":"supply"}',
        ),
        (
            END,
            '{"at":"2026-11-25T08:31:00-04:00","event":"end","rings":1,"impulses":1,"missed":1,'
            '"lines":{"main":{"shows":"08:31","right":true,"doubtful":false}}}',
        ),
    ],
)
def test_a_record_is_written_as_the_design_shows_it(record, line):
    assert json_line(record, HALIFAX) == line


def test_what_has_nothing_to_say_is_left_out():
    silent = RING._replace(says="")
    single = IMPULSE._replace(polarity="")
    assert "says" not in json.loads(json_line(silent, HALIFAX))
    assert "polarity" not in json.loads(json_line(single, HALIFAX))


@pytest.mark.parametrize(
    ("record", "mark"), [(RING, "cut"), (RING, "hand"), (IMPULSE, "again"), (IMPULSE, "cut")]
)
def test_a_mark_stands_only_where_it_is_true(record, mark):
    assert mark not in json.loads(json_line(record, HALIFAX))
    marked = json.loads(json_line(record._replace(**{mark: True}), HALIFAX))
    assert marked[mark] is True


def test_the_clock_stands_only_where_it_differed():
    for record in (RING, IMPULSE, MISSED):
        off = json.loads(json_line(record._replace(clock=HALF_PAST - 90 * SECOND), HALIFAX))
        assert off["clock"] == "2026-11-25T08:28:30-04:00"
        assert "clock" not in json.loads(json_line(record, HALIFAX))


def test_dials_that_differ_are_listed():
    end = END._replace(lines={"main": LineEnd(("08:30", "08:31"), False, True)})
    assert json.loads(json_line(end, HALIFAX))["lines"]["main"] == {
        "shows": ["08:30", "08:31"],
        "right": False,
        "doubtful": True,
    }


def test_milliseconds_stand_only_where_they_are_not_whole_seconds():
    assert local_text(HALIFAX, HALF_PAST) == "2026-11-25T08:30:00-04:00"
    assert local_text(HALIFAX, HALF_PAST + 300 * MILLISECOND) == "2026-11-25T08:30:00.300-04:00"
    assert local_text(HALIFAX, HALF_PAST + 999_999) == "2026-11-25T08:30:00-04:00"


def test_the_offset_tells_the_two_times_of_an_autumn_night_apart():
    # Halifax, 2026-11-01: clocks go back from 02:00 to 01:00 (IANA).
    first = at("2026-11-01T01:30")
    assert local_text(HALIFAX, first) == "2026-11-01T01:30:00-03:00"
    assert local_text(HALIFAX, first + 3600 * SECOND) == "2026-11-01T01:30:00-04:00"


@given(st.integers(0, 4_000_000_000_000).map(lambda ms: ms * MILLISECOND))
def test_an_instant_is_read_back_from_its_text_to_the_millisecond(utc):
    back = datetime.fromisoformat(local_text(HALIFAX, utc))
    assert round(back.timestamp() * 1000) * MILLISECOND == utc


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=200))
def test_whatever_a_ring_says_stays_on_one_line_and_is_read_back(says):
    line = json_line(RING._replace(says=says), HALIFAX)
    assert "\n" not in line
    assert json.loads(line).get("says", "") == says


def test_only_rings_keeps_the_missed_with_them_and_both_keep_the_end():
    records = [MISSED, IMPULSE, RING, END]
    assert list(only(records, "rings")) == [MISSED, RING, END]
    assert list(only(records, "impulses")) == [IMPULSE, END]


def test_a_rehearsal_is_counted_by_local_date():
    late = at("2026-11-25T23:59")
    records = [
        RING,
        RING._replace(zone="south", cut=True),
        IMPULSE._replace(at=late),
        IMPULSE._replace(at=late + 60 * SECOND, again=True),
        MISSED._replace(at=late + 61 * SECOND),
        END,
    ]
    counted = tally(records, HALIFAX, 10)
    first, second = counted.days[date(2026, 11, 25)], counted.days[date(2026, 11, 26)]
    assert first.soundings == {"north": 1, "south": 1}
    assert first.cut["south"] == 1
    assert first.impulses == {"main": 1}
    assert second.impulses == {"main": 1}
    assert second.again["main"] == 1
    assert second.missed == {"south": 1}
    assert counted.end == END


def test_missed_rings_are_kept_singly_up_to_a_limit():
    counted = tally([MISSED] * 5 + [END], HALIFAX, 3)
    assert counted.missed == [MISSED] * 3
    assert counted.days[date(2026, 11, 25)].missed["south"] == 5


def test_a_rehearsal_without_end_is_none():
    with pytest.raises(AssertionError, match="end record"):
        tally([RING], HALIFAX, 10)
