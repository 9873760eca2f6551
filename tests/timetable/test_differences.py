"""What another file changes of the rings in the coming days, each by itself and in words."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schedules import SECOND, schedules

from controller.timetable.days import Timetable
from controller.timetable.differences import MOST_LINES, differences, summary

SCHOOL = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.south]
relay = 27
[zones.yard]
relay = 22
[plans.regular]
rings = [
  { at = "08:30", zones = ["north", "south"], for = "5s", says = "First class" },
  { at = "12:00", zones = ["*"], strokes = [1.0, 0.5, 1.0], says = "Lunch" },
]
[plans.short]
rings = [{ at = "08:30", zones = ["north", "south"], for = "5s", says = "First class" }]
[week]
mon = "regular"
tue = "regular"
wed = "regular"
thu = "regular"
fri = "regular"
"""
WEDNESDAY = datetime(2026, 11, 25)
NOTHING = SCHOOL.replace("thu =", "# thu =")


def calendar(plan: str, on: str) -> str:
    return f'[[calendar]]\non = {on}\nplan = "{plan}"\n'


def instead(old: str, new: str) -> str:
    assert SCHOOL.count(old) == 1, "the place must be plain"
    return SCHOOL.replace(old, new)


@pytest.fixture
def found(building_of):
    """Differences between two files, from an instant of the second one's local time on."""

    def made(before: str, after: str, start=WEDNESDAY, days=14, orders=None):
        new = building_of(after)
        old_table, new_table = Timetable(building_of(before)), Timetable(new, orders)
        return differences(old_table, new_table, new.civil.instant(start), days), new.civil

    return made


@pytest.fixture
def said(found):
    def made(*arguments, **keywords) -> list[str]:
        return summary(*found(*arguments, **keywords))

    return made


# ── each by itself ───────────────────────────────────────────────────────────────────────────────


def test_the_same_rings_in_other_words_make_no_difference(found):
    assert found(SCHOOL, SCHOOL.replace('"08:30"', '"08:30:00"'))[0] == ()


def test_a_new_ring_has_no_before_and_a_gone_one_no_after(found):
    both, _ = found(SCHOOL, instead('at = "12:00"', 'at = "12:05"'), days=1)
    gone = [one for one in both if one.kind == "gone"]
    new = [one for one in both if one.kind == "new"]
    assert [(one.zone, one.written) for one in both] == [
        (zone, f"2026-11-25T12:{minute}:00")
        for minute in ("00", "05")
        for zone in ("north", "south", "yard")
    ]
    strokes = ((0, SECOND), (3 * SECOND // 2, 5 * SECOND // 2))
    assert {(one.before, one.after, one.says_before, one.says_after) for one in gone} == {
        (strokes, (), "Lunch", "")
    }
    assert {(one.before, one.after, one.says_before, one.says_after) for one in new} == {
        ((), strokes, "", "Lunch")
    }


@pytest.mark.parametrize(("old", "new"), [('for = "5s"', 'for = "6s"'), ("First", "1st")])
def test_another_length_or_text_is_a_change_and_not_another_ring(found, old, new):
    changed, _ = found(SCHOOL, SCHOOL.replace(old, new, 1), days=1)
    assert [(one.zone, one.kind, one.written[11:]) for one in changed] == [
        ("north", "changed", "08:30:00"),
        ("south", "changed", "08:30:00"),
    ]


def test_a_ring_that_a_quiet_row_silences_is_not_there(found):
    gone, _ = found(SCHOOL, SCHOOL + '[quiet]\nnorth = ["wed"]\n', days=7)
    assert [(one.zone, one.kind, one.written) for one in gone] == [
        ("north", "gone", "2026-11-25T08:30:00"),
        ("north", "gone", "2026-11-25T12:00:00"),
    ]


def test_a_one_off_order_counts_as_the_calendar_does(found):
    gone, _ = found(SCHOOL, SCHOOL, days=2, orders={date(2026, 11, 26): "short"})
    assert {one.written for one in gone} == {"2026-11-26T12:00:00"}


def test_what_was_due_before_the_start_or_is_due_at_the_end_is_left_out(found):
    at_noon = datetime(2026, 11, 25, 12)
    gone, _ = found(SCHOOL, NOTHING.replace('for = "5s"', 'for = "6s"'), start=at_noon, days=5)
    assert {one.written for one in gone} == {
        "2026-11-26T08:30:00", "2026-11-26T12:00:00", "2026-11-27T08:30:00", "2026-11-30T08:30:00",
    }  # fmt: skip


def test_in_another_time_zone_every_ring_is_at_another_instant(found, said):
    other = instead("America/Halifax", "Europe/Oslo")
    changed, _ = found(other, SCHOOL, days=1)
    assert {one.kind for one in changed if one.written.endswith("T12:00:00")} == {"changed"}
    assert "Wed 25 Nov 12:00 north, south, yard: at another instant" in said(other, SCHOOL, days=1)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(schedules, schedules, st.dates(date(2026, 1, 3), date(2026, 12, 10)), st.integers(1, 16))
def test_differences_are_those_between_two_readings_by_hand(building_of, one, other, day, days):
    """New and gone are the two sets' differences; with them the one window becomes the other."""
    before, after = building_of(one.text()), building_of(other.text())
    start = before.civil.instant(datetime(day.year, day.month, day.day, 9, 17))
    end = start + days * 86_400 * SECOND
    old, new = Timetable(before), Timetable(after)
    found = differences(old, new, start, days)

    def by_hand(schedule):
        near = (day + timedelta(days=n) for n in range(-2, days + 3))
        rings = {ring for each in near for ring in schedule.rings_by_hand(each)[0]}
        return {(zone, at) for zone, at, due in rings if start <= due * SECOND < end}

    told = {
        kind: {(d.zone, d.written) for d in found if d.kind == kind}
        for kind in ("new", "gone", "changed")
    }
    was, is_now = by_hand(one), by_hand(other)
    assert (told["new"], told["gone"]) == (is_now - was, was - is_now)
    assert told["changed"] <= was & is_now
    assert [d.due for d in found] == sorted(d.due for d in found)

    rings = {(r.zone, r.written): (r.closings, r.says) for r in old.window(start, end)}
    for d in found:
        if d.kind == "gone":
            assert rings.pop((d.zone, d.written)) == (d.before, d.says_before)
        else:
            assert rings.get((d.zone, d.written), ((), "")) == (d.before, d.says_before)
            rings[d.zone, d.written] = (d.after, d.says_after)
    assert rings == {(r.zone, r.written): (r.closings, r.says) for r in new.window(start, end)}
    for line in summary(found, after.civil):
        assert line.isprintable()


# ── in words ─────────────────────────────────────────────────────────────────────────────────────


def test_where_nothing_differs_there_is_nothing_to_say(said):
    assert said(SCHOOL, SCHOOL) == []


def test_the_same_change_on_many_days_is_one_line(said):
    before = SCHOOL.replace('{ at = "08:30", zones = ["north", "south"], for = "5s", '
                            'says = "First class" },\n', "", 1)  # fmt: skip
    assert said(before, SCHOOL) == [
        'Mon–Fri 08:30 north, south: new, 5 s, "First class", from Wed 25 Nov (10 times)'
    ]
    assert said(SCHOOL, before) == ["Mon–Fri 08:30 north, south: gone, from Wed 25 Nov (10 times)"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('for = "5s", says = "First class" },\n  {', 'for = "7.5s", says = "First class" },\n  {',
         "Wed 25 Nov 08:30 north, south: 5 s → 7.5 s"),
        ("strokes = [1.0, 0.5, 1.0]", "strokes = [1, 1, 1, 1, 1]",
         "Wed 25 Nov 12:00 north, south, yard: 2 strokes → 3 strokes"),
        ("strokes = [1.0, 0.5, 1.0]", "strokes = [1, 0.6, 1]",
         "Wed 25 Nov 12:00 north, south, yard: 2 strokes, of other lengths"),
        ('says = "Lunch"', 'says = "Dinner"',
         'Wed 25 Nov 12:00 north, south, yard: "Lunch" → "Dinner"'),
        (', says = "Lunch"', "", 'Wed 25 Nov 12:00 north, south, yard: "Lunch" → no text'),
        ('strokes = [1.0, 0.5, 1.0], says = "Lunch"', 'for = "2s", says = "Dinner"',
         'Wed 25 Nov 12:00 north, south, yard: 2 strokes → 2 s, "Lunch" → "Dinner"'),
        ('at = "12:00", zones = ["*"]', 'at = "12:00", zones = ["yard"]',
         "Wed 25 Nov 12:00 north, south: gone"),
    ],
)  # fmt: skip
def test_what_is_otherwise_is_said(said, old, new, words):
    assert said(SCHOOL, instead(old, new), days=1) == [words]


def test_up_to_three_days_are_named_and_more_are_told_by_their_weekdays(said):
    dates = ["2026-11-25", "2026-11-27", "2026-12-02", "2026-12-04", "2026-12-07"]
    by_dates = [
        said(SCHOOL, SCHOOL + "".join(calendar("short", one) for one in dates[:count]))
        for count in (1, 3, 4, 5)
    ]
    noon = "12:00 north, south"
    assert [[line for line in lines if noon in line] for lines in by_dates] == [
        [f"Wed 25 Nov {noon}, yard: gone"],
        [f"Wed 25 Nov, Fri 27 Nov, Wed 2 Dec {noon}, yard: gone"],
        [f"Wed, Fri {noon}, yard: gone, from Wed 25 Nov (4 times)"],
        [f"Mon, Wed, Fri {noon}, yard: gone, from Wed 25 Nov (5 times)"],
    ]


def test_every_day_of_the_week_is_daily(said):
    tape = '[tape]\nlength = "24h"\nfor = "3s"\n[tape.holes]\nyard = ["07:00"]\n'
    assert said(SCHOOL, SCHOOL + tape) == ["daily 07:00 yard: new, 3 s, from Wed 25 Nov (14 times)"]


def test_a_day_without_any_ring_is_said_first_and_its_rings_are_not_told_again(said):
    other = instead('says = "Lunch"', 'says = "Dinner"') + calendar("none", "2026-11-26")
    assert said(SCHOOL, other, days=3) == [
        "Thu 26 Nov: no ring is left in any zone; 5 rings are gone",
        'Wed 25 Nov, Fri 27 Nov 12:00 north, south, yard: "Lunch" → "Dinner"',
    ]


def test_when_all_falls_silent_the_days_are_one_line(said):
    silent = SCHOOL[: SCHOOL.index("[week]")]
    assert said(SCHOOL, silent) == [
        "Mon–Fri, from Wed 25 Nov (10 days): no ring is left in any zone; 50 rings are gone"
    ]


def test_a_zone_that_loses_all_its_rings_is_said_before_other_changes(said):
    other = instead('at = "12:00", zones = ["*"]', 'at = "12:00", zones = ["north"]')
    assert said(SCHOOL, other, days=2) == [
        "yard: no ring is left on any of these days; 2 rings are gone",
        "Wed 25 Nov, Thu 26 Nov 12:00 south: gone",
    ]


def test_a_zone_is_not_called_silent_for_days_on_which_all_is(said):
    """The yard rings on the first day only, and that day is silent altogether."""
    before = instead('at = "12:00", zones = ["*"]', 'at = "12:00", zones = ["north"]')
    before = before.replace("[week]", "[plans.yard]\n"
        'rings = [{ at = "10:00", zones = ["yard"], for = "2s" }]\n[week]')  # fmt: skip
    after = before + calendar("none", "2026-11-25")
    assert said(before + calendar("yard", "2026-11-25"), after) == [
        "Wed 25 Nov: no ring is left in any zone; 1 ring is gone"
    ]


def test_a_day_that_goes_on_ringing_after_the_last_hour_looked_at_is_not_called_silent(said):
    """The window ends on Thursday at ten: its lunch lies beyond and is left."""
    other = SCHOOL.replace('  { at = "08:30", zones = ["north", "south"], for = "5s", '
                           'says = "First class" },\n', "", 1)  # fmt: skip
    ten = datetime(2026, 11, 25, 10)
    assert said(SCHOOL, other, start=ten, days=1) == ["Thu 26 Nov 08:30 north, south: gone"]


def test_a_time_that_the_clock_never_shows_is_told_with_what_it_is_read_as(said):
    """Halifax, 14 March 2027: clocks go on from 02:00 to 03:00 (IANA time zone data)."""
    night = '[plans.night]\nrings = [{ at = "02:30", zones = ["yard"], for = "2s" }]\n'
    other = instead("[week]", night + '[week]\nsun = "night"')
    assert said(SCHOOL, other, start=datetime(2027, 3, 13), days=9) == [
        "Sun 14 Mar 02:30 (at 03:30) yard: new, 2 s",
        "Sun 21 Mar 02:30 yard: new, 2 s",
    ]


def test_seconds_are_said_where_there_are_any(said):
    assert said(SCHOOL, instead('at = "12:00"', 'at = "12:00:30"'), days=1) == [
        "Wed 25 Nov 12:00 north, south, yard: gone",
        'Wed 25 Nov 12:00:30 north, south, yard: new, 2 strokes, "Lunch"',
    ]


def test_there_are_forty_lines_at_most_and_then_a_count(said):
    rings = "".join(
        f'{{ at = "{9 + n // 60:02}:{n % 60:02}", zones = ["north"], for = "2s" }},\n'
        for n in range(53)
    )
    lines = said(SCHOOL, SCHOOL.replace("rings = [\n", f"rings = [\n{rings}", 1))
    assert len(lines) == MOST_LINES + 1 == 41
    assert lines[-1] == "… and 13 more"


def test_a_long_text_and_many_zones_are_cut_short(said):
    zones = "".join(f"[zones.z{n}]\nrelay = {n}\n" for n in range(4, 14))
    before = SCHOOL.replace("[plans.regular]", f"{zones}[plans.regular]")
    after = before.replace('says = "Lunch"', f'says = "{"x" * 200}"')
    (line,) = said(before, after, days=1)
    assert line == (
        "Wed 25 Nov 12:00 north, south, yard, z4, z5, z6, z7, z8 and 5 more zones: "
        f'"Lunch" → "{"x" * 59}…"'
    )
