"""What of the logbook is asked for, and what of it fits."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.civil import CivilTime
from controller.page.logbook_asked import Asked, asked_of, before_of, by_day, span_of

CIVIL = CivilTime("America/Halifax")
NOW = CIVIL.instant(datetime(2026, 11, 25, 10))


def entry(kind: str, zone: str = "", text: str = "", at: int = NOW):
    return {
        "at": at,
        "kind": kind,
        "zone": zone,
        "written": [],
        "text": text,
        "how": "done",
        "seconds": 5.0,
        "by": "Ada",
        "rings": 1,
    }


def test_a_kind_takes_in_all_of_its_entries_and_no_others():
    missed = Asked(kind="missed")
    assert missed.fits(entry("missed", "north", "late"))
    assert missed.fits(entry("missed-count", text="off"))
    assert not missed.fits(entry("sounding", "north"))
    assert Asked(kind="done").fits(entry("note", text="reload"))
    assert not Asked(kind="nonsense").fits(entry("note"))


def test_words_are_sought_in_what_is_told_whatever_their_letters():
    assert Asked(text="FIRST").fits(entry("sounding", "north", "First class"))
    assert Asked(text="ada").fits(entry("note", text="reload")), "who did it is told too"
    assert not Asked(text="second").fits(entry("sounding", "north", "First class"))


def test_a_zone_is_that_zone_alone():
    assert Asked(zone="north").fits(entry("sounding", "north"))
    assert not Asked(zone="north").fits(entry("note", text="north"))


def test_unless_said_the_last_seven_days_are_read():
    span, wrong = span_of(Asked(), CIVIL, NOW)
    assert (span.since, span.before, wrong) == ("2026-11-18", None, {})


def test_the_last_day_is_read_to_its_end():
    span, _ = span_of(Asked(since="2026-11-01", until="2026-11-01"), CIVIL, NOW)
    assert span.since == "2026-11-01"
    assert span.before == CIVIL.instant(datetime(2026, 11, 2))


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        (Asked(since="yesterday"), "since"),
        (Asked(until="2026-02-30"), "until"),
        (Asked(since="2026-11-02", until="2026-11-01"), "until"),
        (Asked(since="0001-01-01"), "since"),
    ],
)
def test_dates_that_make_no_sense_are_told_at_their_field(asked, field):
    assert list(span_of(asked, CIVIL, NOW)[1]) == [field]


def test_entries_are_put_together_day_by_day_as_they_come():
    midnight = CIVIL.instant(datetime(2026, 11, 25))
    entries = [entry("note", at=midnight), entry("note", at=midnight - 1)]
    assert [(day, len(found)) for day, found in by_day(entries, CIVIL)] == [
        (date(2026, 11, 25), 1),
        (date(2026, 11, 24), 1),
    ]


keys = st.sampled_from([*Asked._fields, "before"])


@given(st.dictionaries(keys, st.text()))
def test_whatever_is_typed_is_taken_or_told_as_wrong(query):
    asked = asked_of(query)
    span, wrong = span_of(asked, CIVIL, NOW)
    assert wrong or date.fromisoformat(span.since)
    before = before_of(query)
    assert before is None or 0 <= before <= 1 << 62, "what the order takes"
