"""What stands in a drawn week: every sounding once, and where; what is silenced, and why."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schedules import FIRST, LAST, Schedule, schedules
from school_house import HOUR, school, week

from controller.building.civil import CivilTime
from controller.pictures.week import close_together, hours, limited, local_midnight, week_of
from controller.timetable.days import Timetable

quickly = settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
dates = st.dates(FIRST + timedelta(days=14), LAST - timedelta(days=14))


def week_ends(civil: CivilTime, monday: date) -> tuple[int, int]:
    ends = (monday, monday + timedelta(days=7))
    return tuple(civil.instant(datetime.combine(day, time.min)) for day in ends)


@quickly
@given(schedule=schedules, on=dates)
def test_every_sounding_of_the_week_stands_in_its_lane_exactly_once(building_of, schedule, on):
    building = building_of(schedule.text())
    timetable = Timetable(building)
    drawn = week_of(building, timetable, on)
    monday = on - timedelta(days=on.weekday())
    days = [monday + timedelta(days=number) for number in range(8)]
    starts = [building.civil.instant(datetime.combine(day, time.min)) for day in days]
    by_day = [
        (one.zone, one.start)
        for start, end in pairwise(starts)
        for one in timetable.soundings(start, end)
    ]
    marks = [
        (lane.zone, mark.due)
        for lane in drawn.lanes
        for row in lane.rows
        for mark in row.marks
        if not mark.quiet
    ]
    assert sorted(marks) == sorted(by_day)


@quickly
@given(schedule=schedules, on=dates)
def test_what_quiet_rows_silence_stands_there_as_read_by_hand(building_of, schedule: Schedule, on):
    building = building_of(schedule.text())
    drawn = week_of(building, Timetable(building), on)
    monday = on - timedelta(days=on.weekday())
    start, end = (at // 10**9 for at in week_ends(building.civil, monday))
    by_hand = [
        (zone, due)
        for number in range(-2, 9)
        for zone, _, due in schedule.rings_by_hand(monday + timedelta(days=number))[1]
        if start <= due < end
    ]
    silent = [
        (lane.zone, mark.due // 10**9, mark.quiet)
        for lane in drawn.lanes
        for row in lane.rows
        for mark in row.marks
        if mark.quiet
    ]
    assert sorted((zone, due) for zone, due, _ in silent) == sorted(by_hand)
    for zone, _, half_day in silent:
        assert {half_day, half_day.split()[0]} & set(schedule.quiet[zone])


@quickly
@given(schedule=schedules, on=dates)
def test_a_mark_stands_where_the_clock_on_the_wall_is(building_of, schedule, on):
    building = building_of(schedule.text())
    drawn = week_of(building, Timetable(building), on)
    for lane in drawn.lanes:
        for day, row in zip(drawn.days, lane.rows, strict=True):
            for mark in row.marks:
                wall = building.civil.aware(mark.due)
                assert wall.date() == day.date
                assert mark.at // 10**9 == (wall.hour * 3600 + wall.minute * 60 + wall.second)


@quickly
@given(schedule=schedules, on=dates)
def test_the_hours_shown_hold_every_mark(building_of, schedule, on):
    drawn = week_of((building := building_of(schedule.text())), Timetable(building), on)
    first, last = hours(drawn)
    assert 0 <= first <= last - 6 <= 18
    assert all(first * HOUR <= mark.at < last * HOUR for mark in drawn.marks)


@quickly
@given(schedule=schedules, on=dates, apart=st.integers(1, 4 * HOUR))
def test_marks_close_together_are_none_lost_and_none_mixed(building_of, schedule, on, apart):
    drawn = week_of((building := building_of(schedule.text())), Timetable(building), on)
    for lane in drawn.lanes:
        for row in lane.rows:
            groups = close_together(row.marks, apart)
            assert [mark for group in groups for mark in group] == list(row.marks)
            assert all(len({bool(mark.quiet) for mark in group}) == 1 for group in groups)


# ── quiet rows ───────────────────────────────────────────────────────────────────────────────────


def test_a_night_without_bells_reaches_into_the_morning_after(building_of):
    drawn = week(building_of(school()), "2026-11-16")
    north = drawn.lanes[0]
    assert north.rows[0].quiet == ((0, 6 * HOUR),)  # Monday's first hours are Sunday's night
    assert north.rows[4].quiet == ((18 * HOUR, 24 * HOUR),)
    assert north.rows[5].quiet == ((0, 24 * HOUR),)
    assert all(row.quiet == () for row in drawn.lanes[1].rows)


def test_what_is_silenced_says_by_which_half_day(building_of):
    drawn = week(building_of(school()), "2026-11-16")
    assert [(mark.at // HOUR, mark.quiet) for mark in drawn.lanes[0].rows[5].marks] == [
        (8, "sat day"),
        (12, "sat day"),
    ]


def test_a_calendar_day_that_lifts_the_quiet_rows_has_none(building_of):
    saturday = week(building_of(school()), "2026-11-28").lanes[0].rows[5]
    assert saturday.quiet == ()
    assert saturday.sounding == len(saturday.marks) == 2


# ── the days ─────────────────────────────────────────────────────────────────────────────────────


def test_a_day_says_its_plan_and_why_it_is_not_the_usual(building_of):
    days = week(building_of(school()), "2026-11-25").days
    assert [(day.plan, day.departs, day.why) for day in days[1:4]] == [
        ("regular", False, ""),
        ("short", True, "Concert <evening>"),
        ("regular", False, ""),
    ]


def test_a_public_holiday_is_named(building_of):
    # Good Friday of 2027 is 26 March: Easter Sunday is 28 March 2027 (Gregorian computus).
    friday = week(building_of(school()), "2027-03-26").days[4]
    assert (friday.plan, friday.why) == ("none", "public holiday: Good Friday")


def test_a_one_off_order_is_drawn_where_it_is_known(building_of):
    thursday = date(2026, 11, 26)
    drawn = week(building_of(school()), "2026-11-26", {thursday: "short"})
    assert (drawn.days[3].plan, drawn.days[3].why) == ("short", "by order")
    assert [mark.at // HOUR for mark in drawn.lanes[0].rows[3].marks] == [9]
    assert drawn.remarks == ()


def test_an_order_whose_plan_is_gone_is_said_aloud(building_of):
    drawn = week(building_of(school()), "2026-11-26", {date(2026, 11, 26): "gone"})
    assert drawn.remarks == (
        "2026-11-26: the order to follow gone is not heeded, for the file has no such plan.",
    )
    assert week(building_of(school()), "2026-12-03", {date(2026, 11, 26): "gone"}).remarks == ()


@pytest.mark.parametrize(
    ("on", "title"),
    [
        # ISO 8601 week dates, as published: 2005-01-01 is 2004-W53-6, 2008-12-29 is 2009-W01-1,
        # 2010-01-03 is 2009-W53-7 (from memory).
        ("2005-01-01", "Week 53 of 2004, 27 December 2004 to 2 January 2005"),
        ("2008-12-29", "Week 1 of 2009, 29 December 2008 to 4 January 2009"),
        ("2010-01-03", "Week 53 of 2009, 28 December 2009 to 3 January 2010"),
        ("2026-11-25", "Week 48 of 2026, 23 to 29 November 2026"),
        ("2026-10-28", "Week 44 of 2026, 26 October to 1 November 2026"),
    ],
)
def test_a_week_begins_on_monday_and_has_the_number_of_iso_8601(building_of, on, title):
    drawn = week(building_of(school()), on)
    assert drawn.title == title
    assert drawn.days[0].date.isoweekday() == 1
    assert len(drawn.days) == 7


# ── clock changes ────────────────────────────────────────────────────────────────────────────────


def change_of(building_of, timezone: str, on: str):
    drawn = week(building_of(school(timezone, "")), on)
    (day,) = (day for day in drawn.days if day.changes)
    return drawn, day


@pytest.mark.parametrize(
    ("timezone", "on", "never", "twice"),
    [  # IANA time zone database
        ("America/Halifax", "2027-03-14", [(2.0, 3.0)], []),
        ("America/Halifax", "2026-11-01", [], [(1.0, 2.0)]),
        ("Australia/Lord_Howe", "2026-10-04", [(2.0, 2.5)], []),
        ("Australia/Lord_Howe", "2026-04-05", [], [(1.5, 2.0)]),
    ],
)
def test_the_hour_that_is_missing_or_there_twice_is_marked(building_of, timezone, on, never, twice):
    _, day = change_of(building_of, timezone, on)
    assert day.date.isoformat() == on
    in_hours = [
        [(start / HOUR, end / HOUR) for start, end in day.stretches(twice=kind)]
        for kind in (False, True)
    ]
    assert in_hours == [never, twice]


def test_a_ring_in_the_missing_hour_stands_where_it_sounds(building_of):
    drawn, _ = change_of(building_of, "America/Halifax", "2027-03-14")
    # 02:10 does not exist and is read with the offset before the gap (RFC 5545, 3.3.5): 03:10.
    assert [mark.at / HOUR for mark in drawn.lanes[1].rows[6].marks] == [1.5, 3 + 1 / 6]


def test_a_ring_in_the_hour_that_comes_twice_stands_there_once(building_of):
    drawn, day = change_of(building_of, "America/Halifax", "2026-11-01")
    first, second = drawn.lanes[1].rows[6].marks
    assert first.at / HOUR == 1.5
    assert datetime.fromtimestamp(first.due // 10**9, UTC) == datetime(
        2026, 11, 1, 4, 30, tzinfo=UTC
    )
    assert second.at / HOUR == 2 + 1 / 6
    assert day.changes[0].words == "clocks go back 60m, from 02:00:00 to 01:00:00"


def test_a_date_that_no_clock_ever_showed_is_a_row_without_rings(building_of):
    # Pacific/Apia went from 29 to 31 December 2011 (IANA time zone database).
    drawn = week(building_of(school("Pacific/Apia", "")), "2011-12-30")
    assert [day.exists for day in drawn.days] == [True, True, True, True, False, True, True]
    assert drawn.days[4].sign.letter == "×"
    assert drawn.days[4].plan == "no such date"
    assert [len(row.marks) for row in drawn.lanes[0].rows] == [2, 2, 2, 2, 0, 2, 0]
    assert drawn.lanes[0].rows[4].quiet == ()


# ── limits ───────────────────────────────────────────────────────────────────────────────────────

CROWDED = """
[building]
timezone = "UTC"
[zones.hall]
relay = 17
longest = "10s"
a_minute = "12s"
[plans.merging]
rings = [
  { at = "08:00", zones = ["hall"], for = "8s" },
  { at = "08:00:05", zones = ["hall"], for = "8s" },
  { at = "08:00:12", zones = ["hall"], for = "8s" },
  { at = "09:00", zones = ["hall"], for = "6s" },
  { at = "09:00:20", zones = ["hall"], for = "6s" },
  { at = "09:00:40", zones = ["hall"], for = "6s" },
]
[week]
mon = "merging"
"""


def test_what_a_limit_ends_early_is_marked_and_said(building_of):
    drawn = week(building_of(CROWDED), "2026-11-23")
    assert [mark.cut for mark in drawn.marks] == ["longest", "", "", "a-minute"]
    assert [*limited(drawn)] == [
        "hall Mon 08:00: cut short after 10 s (longest), 1 of its rings missed",
        "hall Mon 09:00:40: missed (a-minute)",
    ]


def test_a_local_midnight_counts_from_1970():
    assert local_midnight(date(1970, 1, 2)) == 24 * HOUR
