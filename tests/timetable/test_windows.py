"""Windows of the timetable: property tests over invented schedules."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import islice

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from schedules import Schedule, dates, schedules

from controller.building.civil import utc_ns
from controller.timetable.days import NEXT_DUE_DAYS, Timetable

DAY = 86_400 * 10**9
YEAR_START = utc_ns(datetime(2026, 1, 1, tzinfo=UTC))
instants = st.one_of(
    st.integers(0, 365 * 86_400).map(lambda seconds: YEAR_START + seconds * 10**9),
    st.integers(0, 365 * DAY).map(lambda ns: YEAR_START + ns),
)
lengths = st.one_of(st.integers(0, 4 * DAY), st.integers(0, 60).map(lambda days: days * DAY))
quickly = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def one_day_of(schedule: Schedule, day: date, building_of) -> Timetable:
    return Timetable(building_of(schedule.text())).day(day)


@quickly
@given(schedule=schedules, day=dates)
def test_a_date_has_the_rings_that_its_rules_read_by_hand_give(building_of, schedule, day):
    found = one_day_of(schedule, day, building_of)
    rings, silenced = schedule.rings_by_hand(day)
    assert {(r.zone, r.written, r.due // 10**9) for r in found.rings} == rings
    assert {(r.zone, r.written, r.due // 10**9) for r in found.silenced} == silenced
    assert len(found.rings) == len(rings)
    assert len(found.silenced) == len(silenced)


@quickly
@given(schedule=schedules, start=instants, length=lengths)
def test_a_window_holds_the_rings_due_in_it_in_order(building_of, schedule, start, length):
    timetable = Timetable(building_of(schedule.text()))
    rings = list(timetable.window(start, start + length))
    place = {zone: number for number, zone in enumerate(schedule.zones)}
    assert rings == sorted(rings, key=lambda r: (r.due, place[r.zone], r.written))
    first = datetime.fromtimestamp(start // 10**9, UTC).date() - timedelta(days=2)
    by_day = [
        ring
        for offset in range(length // DAY + 6)
        for ring in timetable.day(first + timedelta(days=offset)).rings
        if start <= ring.due < start + length
    ]
    assert sorted(by_day) == sorted(rings)


@quickly
@given(schedule=schedules, start=instants, first=lengths, second=lengths)
def test_a_window_is_its_two_halves(building_of, schedule, start, first, second):
    timetable = Timetable(building_of(schedule.text()))
    middle, end = start + first, start + first + second
    whole = list(timetable.window(start, end))
    assert whole == [*timetable.window(start, middle), *timetable.window(middle, end)]


@quickly
@given(schedule=schedules, day=dates)
def test_quiet_rows_only_take_rings_away(building_of, schedule, day):
    quiet = one_day_of(schedule, day, building_of)
    loud = one_day_of(Schedule(**{**vars(schedule), "quiet": {}}), day, building_of)
    assert loud.silenced == ()
    assert sorted([*quiet.rings, *quiet.silenced]) == sorted(loud.rings)


@quickly
@given(schedule=schedules, day=dates, zones=st.permutations(["north", "south", "yard"]))
def test_the_order_of_the_zones_does_not_change_what_rings(building_of, schedule, day, zones):
    ours = one_day_of(schedule, day, building_of)
    others = one_day_of(schedule.with_zones(tuple(zones)), day, building_of)
    assert sorted(ours.rings) == sorted(others.rings)
    assert sorted(ours.silenced) == sorted(others.silenced)


@quickly
@given(schedule=schedules, data=st.data(), day=dates)
def test_the_order_of_entries_that_do_not_meet_does_not_matter(building_of, schedule, data, day):
    apart = []
    for entry in schedule.calendar:
        if not any(entry.meets(other) for other in apart):
            apart.append(entry)
    assume(len(apart) > 1)
    shuffled = data.draw(st.permutations(apart))
    days = [day, *(entry.first for entry in apart), *(entry.last for entry in apart)]
    one, other = (
        Timetable(building_of(schedule.with_calendar(tuple(calendar)).text()))
        for calendar in (apart, shuffled)
    )
    assert [one.day(day) for day in days] == [other.day(day) for day in days]


@quickly
@given(schedule=schedules, start=instants, length=lengths)
def test_what_is_upcoming_is_what_the_windows_hold(building_of, schedule, start, length):
    timetable = Timetable(building_of(schedule.text()))
    window = list(timetable.window(start, start + length))
    assert list(islice(timetable.upcoming(start), len(window))) == window


@quickly
@given(schedule=schedules, after=instants)
def test_the_next_due_is_the_first_of_what_is_upcoming(building_of, schedule, after):
    timetable = Timetable(building_of(schedule.text()))
    first = next(timetable.upcoming(after), None)
    due = timetable.next_due(after)
    if first is None or first.due >= after + NEXT_DUE_DAYS * DAY:
        assert due is None
    else:
        assert due == first.due


@quickly
@given(schedule=schedules, after=instants, zone=st.sampled_from(["north", "south", "yard"]))
def test_what_is_upcoming_of_a_zone_is_its_part_of_the_window(building_of, schedule, after, zone):
    timetable = Timetable(building_of(schedule.text()))
    window = timetable.window(after, after + 2 * DAY)
    assert list(timetable.upcoming_of(zone, after)) == [r for r in window if r.zone == zone]


@quickly
@given(schedule=schedules, day=dates)
def test_asking_in_any_order_gives_the_same_days(building_of, schedule, day):
    """What is kept in mind changes nothing: a fresh timetable agrees with one that was used."""
    used = Timetable(building_of(schedule.text()))
    list(used.window(YEAR_START, YEAR_START + 365 * DAY))
    assert used.day(day) == one_day_of(schedule, day, building_of)


@settings(quickly, max_examples=5)
@given(schedule=schedules)
def test_many_years_in_a_row_are_the_days_one_by_one(building_of, schedule):
    """More days than are kept in mind."""
    timetable = Timetable(building_of(schedule.text()))
    years = YEAR_START, YEAR_START + 1000 * DAY
    found = list(timetable.window(*years))
    one_by_one = [
        ring
        for number in range(-2, 1002)
        for ring in timetable.day(date(2026, 1, 1) + timedelta(days=number)).rings
        if years[0] <= ring.due < years[1]
    ]
    assert sorted(found) == sorted(one_by_one)
    assert list(timetable.window(*years)) == found


def test_a_timetable_without_rings_has_nothing_upcoming(building_of):
    timetable = Timetable(building_of(Schedule("Asia/Kolkata", ("north",), {}).text()))
    assert list(timetable.upcoming(YEAR_START)) == []
    assert timetable.next_due(YEAR_START) is None


def test_the_next_ring_is_sought_for_400_days(building_of):
    text = (
        Schedule("Asia/Kolkata", ("north",), {}).text()
        + """
[plans.once]
rings = [{ at = "09:00", zones = ["north"], for = "2s" }]
[[calendar]]
on = 2026-06-01
plan = "once"
"""
    )
    timetable = Timetable(building_of(text))
    due = timetable.day(date(2026, 6, 1)).rings[0].due
    assert timetable.next_due(due) == due
    assert timetable.next_due(due + 1) is None
    assert timetable.next_due(due - NEXT_DUE_DAYS * DAY + 1) == due
    assert timetable.next_due(due - NEXT_DUE_DAYS * DAY) is None


def test_no_more_than_some_years_are_kept_in_mind(building_of):
    timetable = Timetable(building_of(Schedule("Asia/Kolkata", ("north",), {}).text()))
    for number in range(3000):
        list(timetable.window(YEAR_START + number * DAY, YEAR_START + (number + 1) * DAY))
        assert len(timetable._days) <= 802
        assert len(timetable._stretches) <= 803
