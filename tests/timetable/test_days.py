"""Which plan a date follows, and what it rings."""

from __future__ import annotations

from datetime import date

import pytest

from controller.timetable.days import Timetable

SCHOOL = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.south]
relay = 27
[plans.regular]
rings = [
  { at = "08:30", zones = ["north", "south"], for = "5s", says = "First class" },
  { at = "12:00", zones = ["*"], strokes = [1.0, 0.5, 1.0], says = "Lunch" },
]
[plans.early-close]
rings = [{ at = "11:30", zones = ["*"], for = "8s", says = "Home" }]
[plans.exam]
rings = [{ at = "09:00:30", zones = ["north"], for = "2s" }]
[week]
mon = "regular"
tue = "regular"
wed = "early-close"
thu = "regular"
fri = "regular"
"""
TAPE = """
[tape]
length = "12h"
for = "3s"
[tape.holes]
south = ["07:00"]
"""
MONDAY, TUESDAY, WEDNESDAY = date(2026, 11, 23), date(2026, 11, 24), date(2026, 11, 25)
SATURDAY = date(2026, 11, 28)


def calendar(plan: str, on: str = "", until: str = "", says: str = "") -> str:
    dates = f"from = {on}\nuntil = {until}" if until else f"on = {on}"
    return f'\n[[calendar]]\n{dates}\nplan = "{plan}"\nsays = "{says}"\n'


def times(day) -> list[str]:
    return [f"{ring.zone} {ring.written[11:]}" for ring in day.rings]


@pytest.fixture
def day_of(building_of):
    def found(text: str, day: date, orders=None):
        return Timetable(building_of(text), orders or {}).day(day)

    return found


REGULAR = ["north 08:30:00", "south 08:30:00", "north 12:00:00", "south 12:00:00"]
EARLY = ["north 11:30:00", "south 11:30:00"]


def test_a_weekday_rings_its_plan_of_the_week(day_of):
    day = day_of(SCHOOL, MONDAY)
    assert times(day) == REGULAR
    assert (day.plan, day.source, day.says, day.exists) == ("usual", "usual", "", True)


def test_a_ring_says_when_where_how_and_what(day_of):
    first, *_, lunch = day_of(SCHOOL, MONDAY).rings
    assert first == (
        "north",
        "2026-11-23T08:30:00",
        1_795_437_000 * 10**9,  # 12:30Z: Halifax is four hours behind in November
        ((0, 5 * 10**9),),
        "First class",
    )
    assert lunch.closings == ((0, 10**9), (15 * 10**8, 25 * 10**8))
    assert lunch.span == 25 * 10**8


def test_a_day_left_out_of_the_week_has_no_rings(day_of):
    assert day_of(SCHOOL, SATURDAY).rings == ()


def test_a_calendar_entry_replaces_the_plan_of_the_week(day_of):
    day = day_of(SCHOOL + calendar("early-close", "2026-11-23", says="Storm"), MONDAY)
    assert times(day) == EARLY
    assert (day.plan, day.source, day.says) == ("early-close", "calendar", "Storm")


def test_a_calendar_entry_replaces_the_tape_too(day_of):
    text = SCHOOL + TAPE + calendar("exam", "2026-11-23")
    assert times(day_of(text, MONDAY)) == ["north 09:00:30"]


def test_until_is_inclusive(day_of):
    text = SCHOOL + calendar("none", "2026-11-23", "2026-11-24")
    assert day_of(text, MONDAY).rings == ()
    assert day_of(text, TUESDAY).rings == ()
    assert times(day_of(text, WEDNESDAY)) == EARLY


@pytest.mark.parametrize("first_in_file", ["the one day", "the range"])
def test_one_day_beats_a_range_wherever_it_stands(day_of, first_in_file):
    one, span = calendar("exam", "2026-11-24"), calendar("none", "2026-11-23", "2026-11-27")
    text = SCHOOL + (one + span if first_in_file == "the one day" else span + one)
    assert times(day_of(text, TUESDAY)) == ["north 09:00:30"]
    assert day_of(text, MONDAY).rings == ()


def test_a_range_of_one_day_is_still_a_range(day_of):
    text = SCHOOL + calendar("exam", "2026-11-24") + calendar("none", "2026-11-24", "2026-11-24")
    assert times(day_of(text, TUESDAY)) == ["north 09:00:30"]


@pytest.mark.parametrize("until", ["", "2026-11-23"])
def test_among_equals_the_later_in_the_file_decides(day_of, until):
    text = (
        SCHOOL
        + calendar("none", "2026-11-23", until)
        + calendar("early-close", "2026-11-23", until)
    )
    assert times(day_of(text, MONDAY)) == EARLY


def test_usual_in_a_calendar_entry_brings_the_usual_back_within_a_break(day_of):
    text = (
        SCHOOL
        + TAPE
        + calendar("none", "2026-11-16", "2026-11-30")
        + calendar("usual", "2026-11-23", says="Open after all")
    )
    day = day_of(text, MONDAY)
    assert times(day) == ["south 07:00:00", *REGULAR, "south 19:00:00"]
    assert (day.plan, day.source, day.says) == ("usual", "calendar", "Open after all")


# ── one-off orders ───────────────────────────────────────────────────────────────────────────────


def test_a_one_off_order_beats_the_calendar(day_of):
    text = SCHOOL + calendar("none", "2026-11-23")
    day = day_of(text, MONDAY, {MONDAY: "early-close"})
    assert times(day) == EARLY
    assert (day.plan, day.source, day.says) == ("early-close", "order", "")


def test_a_one_off_order_replaces_the_tape_too(day_of):
    assert day_of(SCHOOL + TAPE, MONDAY, {MONDAY: "none"}).rings == ()


def test_the_order_usual_brings_the_usual_back(day_of):
    text = SCHOOL + TAPE + calendar("none", "2026-11-16", "2026-11-30")
    day = day_of(text, MONDAY, {MONDAY: "usual"})
    assert times(day) == ["south 07:00:00", *REGULAR, "south 19:00:00"]
    assert day.source == "order"


def test_an_order_is_for_its_date_alone(day_of):
    assert times(day_of(SCHOOL, TUESDAY, {MONDAY: "none"})) == REGULAR


def test_an_order_for_a_plan_that_the_file_no_longer_has_is_set_aside_and_named(building_of):
    timetable = Timetable(building_of(SCHOOL), {MONDAY: "concert", TUESDAY: "exam"})
    assert times(timetable.day(MONDAY)) == REGULAR
    assert timetable.lost_orders == {MONDAY: "concert"}


# ── public holidays ──────────────────────────────────────────────────────────────────────────────

HOLIDAYS = '\n[holidays]\ncountry = "CA"\nsubdivision = "NS"\n'
REMEMBRANCE = date(2026, 11, 11)  # a Wednesday


def test_a_public_holiday_has_no_rings_and_bears_its_name(day_of):
    day = day_of(SCHOOL + TAPE + HOLIDAYS, REMEMBRANCE)
    assert day.rings == ()
    assert (day.plan, day.source, day.says) == ("none", "holiday", "Remembrance Day")


def test_a_public_holiday_may_have_a_plan_of_its_own(day_of):
    assert times(day_of(SCHOOL + HOLIDAYS + 'plan = "exam"', REMEMBRANCE)) == ["north 09:00:30"]


def test_the_calendar_beats_a_public_holiday(day_of):
    day = day_of(SCHOOL + HOLIDAYS + calendar("usual", "2026-11-11"), REMEMBRANCE)
    assert times(day) == EARLY
    assert day.source == "calendar"


def test_without_holidays_in_the_file_a_public_holiday_is_a_day_like_any_other(day_of):
    assert times(day_of(SCHOOL, REMEMBRANCE)) == EARLY


# ── one ring ─────────────────────────────────────────────────────────────────────────────────────


def test_entries_of_a_zone_at_the_same_time_are_one_ring(day_of):
    text = SCHOOL.replace(
        '{ at = "11:30", zones = ["*"], for = "8s", says = "Home" }',
        """{ at = "11:30", zones = ["north"], strokes = [2.0, 6.0, 2.0], says = "Home" },
           { at = "11:30:00", zones = ["*"], for = "3s", says = "Juniors" },
           { at = "11:30", zones = ["north"], for = "1s", says = "Home" },
           { at = "11:30", zones = ["north"], for = "1s" }""",
    )
    north, south = day_of(text, WEDNESDAY).rings
    second = 10**9
    assert north.closings == ((0, 3 * second), (8 * second, 10 * second))
    assert north.says == "Home / Juniors"
    assert south.closings == ((0, 3 * second),)
    assert south.says == "Juniors"


def test_a_hole_at_the_time_of_an_entry_is_one_ring_with_it(day_of):
    text = SCHOOL + TAPE.replace("07:00", "08:30").replace("3s", "7s")
    day = day_of(text, MONDAY)
    assert times(day) == [*REGULAR, "south 20:30:00"]
    assert day.rings[1].closings == ((0, 7 * 10**9),)
    assert day.rings[1].says == "First class"


def test_rings_of_one_instant_come_in_the_order_of_the_zones_in_the_file(day_of):
    swapped = SCHOOL.replace("[zones.north]\nrelay = 17\n[zones.south]\nrelay = 27", "").replace(
        "[plans.regular]", "[zones.south]\nrelay = 27\n[zones.north]\nrelay = 17\n[plans.regular]"
    )
    assert times(day_of(swapped, WEDNESDAY)) == ["south 11:30:00", "north 11:30:00"]


# ── the tape ─────────────────────────────────────────────────────────────────────────────────────


def test_a_tape_of_six_hours_rings_each_hole_four_times_a_day(day_of):
    text = SCHOOL + TAPE.replace("12h", "6h").replace("07:00", "05:15")
    assert times(day_of(text, SATURDAY)) == [
        "south 05:15:00",
        "south 11:15:00",
        "south 17:15:00",
        "south 23:15:00",
    ]


def test_a_tape_that_starts_later_carries_its_holes_round_the_turn(day_of):
    text = SCHOOL + TAPE.replace("for =", 'starts = "08:00"\nfor =').replace("07:00", "06:30")
    assert times(day_of(text, SATURDAY)) == ["south 02:30:00", "south 14:30:00"]


def test_a_tape_of_a_day_rings_each_hole_once(day_of):
    text = SCHOOL + TAPE.replace("12h", "24h").replace('"07:00"', '"07:00", "19:30"')
    assert times(day_of(text, SATURDAY)) == ["south 07:00:00", "south 19:30:00"]
