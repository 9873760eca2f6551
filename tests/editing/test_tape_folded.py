"""A week of plans folded into a tape, and why some cannot be."""

from __future__ import annotations

from datetime import date, time

import pytest
from tape_weeks import SINCE, building, rings, with_tape

from controller.editing.tape_fold import LENGTHS_NS, NoTape, fold

SIX, TWELVE, WHOLE_DAY = LENGTHS_NS
MINUTE = 60_000_000_000
FRAME = """
[building]
timezone = "Europe/London"
[zones.north]
relay = 17
[zones.south]
relay = 18
[zones.gong]
relay = 19
kind = "single-stroke"
"""
EVERY_DAY = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
SCHOOL_DAYS = EVERY_DAY[:5]


def plan(*entries: str, name: str = "regular") -> str:
    return f"[plans.{name}]\nrings = [{', '.join('{ ' + one + ' }' for one in entries)}]\n"


def ring(at: str, zone: str = "north", length: str = 'for = "5s"', says: str = "") -> str:
    return f'at = "{at}", zones = ["{zone}"], {length}' + (f', says = "{says}"' if says else "")


def week(days=EVERY_DAY, name: str = "regular") -> str:
    return "[week]\n" + "".join(f'{day} = "{name}"\n' for day in days)


def folded(*parts: str, **how):
    return fold(building(FRAME + "\n".join(parts)), SINCE, **how)


def why_not(*parts: str, **how) -> dict[tuple[str, str, str], str]:
    """(zone, time, weekdays) → why."""
    with pytest.raises(NoTape) as none:
        folded(*parts, **how)
    return {
        (
            one.zone,
            f"{one.at:%H:%M:%S}".removesuffix(":00"),
            "".join(map(str, one.weekdays)),
        ): one.why
        for one in none.value.hindrances
    }


# ── what folds ───────────────────────────────────────────────────────────────────────────────────


def test_a_ring_that_comes_twice_a_day_is_one_hole_of_half_a_day():
    tape = folded(plan(ring("08:30"), ring("20:30")), week()).tape
    assert (tape.length_ns, tape.starts, tape.for_ns) == (TWELVE, time(0), 5_000_000_000)
    assert tape.holes == {"north": (510 * MINUTE,)}


def test_days_without_rings_become_quiet_days():
    found = folded(plan(ring("08:30"), ring("20:30")), week(SCHOOL_DAYS))
    assert found.quiet == {
        "north": frozenset((day, half) for day in (6, 7) for half in ("day", "night"))
    }


def test_the_evenings_of_a_short_tape_become_quiet_nights():
    found = folded(plan(ring("08:30")), week())
    assert found.tape.length_ns == TWELVE
    assert found.quiet == {"north": frozenset((day, "night") for day in range(1, 8))}
    assert folded(plan(ring("08:30")), week(), lengths_ns=[WHOLE_DAY]).quiet == {}


def test_a_night_belongs_to_the_day_on_which_it_began():
    found = folded(plan(ring("02:00")), week([*SCHOOL_DAYS, "sun"]), lengths_ns=[WHOLE_DAY])
    assert found.quiet == {"north": frozenset({(5, "night")})}, "Saturday at two is Friday's night"


def test_what_a_quiet_row_silences_needs_no_hole():
    found = folded(
        '[quiet]\nnorth = ["sat"]',
        plan(ring("08:30")),
        plan(ring("08:30"), ring("09:40"), name="saturday"),
        week(SCHOOL_DAYS) + 'sat = "saturday"\n',
    )
    assert found.tape.holes == {"north": (510 * MINUTE,)}


def test_the_mark_is_put_where_it_is_wanted():
    tape = folded(plan(ring("08:30")), week(), starts=time(6)).tape
    assert tape.starts == time(6)
    assert tape.holes == {"north": (150 * MINUTE,)}


def test_rings_at_the_same_second_of_the_minute_are_holes_of_a_mark_at_that_second():
    text = plan(ring("08:30:20"), ring("09:40:20")), week()
    tape = folded(*text).tape
    assert tape.starts == time(0, 0, 20)
    house = building(FRAME + "\n".join(text))
    assert rings(with_tape(house, folded(*text))) == rings(house)


def test_strokes_of_one_closing_are_a_hole():
    assert folded(plan(ring("08:30", length="strokes = [5]")), week()).tape.for_ns == 5_000_000_000


def test_the_texts_that_no_hole_carries_are_told_once_each_by_their_time():
    found = folded(
        plan(ring("12:00", says="Lunch"), ring("08:30", says="Begin"), ring("09:00", says="Lunch")),
        week(),
    )
    assert found.texts == ("Begin", "Lunch")


def test_a_tape_beside_the_week_goes_into_the_new_one():
    tape = '[tape]\nlength = "24h"\nstarts = "06:00"\nfor = "5s"\n[tape.holes]\nsouth = ["01:00"]\n'
    found = folded(plan(ring("08:30")), week(), tape)
    assert found.tape.starts == time(6)
    assert found.tape.holes == {"north": (150 * MINUTE,), "south": (60 * MINUTE,)}


# ── what does not ────────────────────────────────────────────────────────────────────────────────


def test_a_ring_that_one_day_lacks_though_it_has_others():
    whole, less = plan(ring("08:30"), ring("10:00")), plan(ring("08:30"), name="less")
    assert why_not(whole, less, week(SCHOOL_DAYS[:4]) + 'fri = "less"\n') == {
        ("north", "10:00", "5"): "the hole for Mon would ring here too, and that day cannot be "
        "quiet: 08:30 rings in it"
    }


def test_a_short_tape_comes_round_again_in_the_same_half_day():
    assert why_not(plan(ring("06:30")), week(), lengths_ns=[SIX]) == {
        ("north", "12:30", "1234567"): "the hole for 06:30 would ring here too, and that day "
        "cannot be quiet: 06:30 rings in it"
    }


def test_a_night_that_must_be_open_for_its_evening():
    both, evening = plan(ring("02:00"), ring("19:00")), plan(ring("19:00"), name="evening")
    before = "the hole for Mon would ring here too, and the night before cannot be quiet"
    after = "the hole for Mon would ring here too, and that night cannot be quiet"
    assert why_not(both, evening, week(SCHOOL_DAYS) + 'sat = "evening"\n') == {
        ("north", "02:00", "67"): f"{before}: 19:00 rings in it",
        ("north", "19:00", "7"): f"{after}: 02:00 rings in it",  # on Monday morning
    }


def test_lengths_strokes_seconds_and_single_strokes():
    reasons = why_not(
        plan(
            ring("08:30"),
            ring("09:30"),
            ring("10:00", length='for = "8s"'),
            ring("11:00", length="strokes = [1, 0.5, 1]"),
            ring("12:00:20"),
            ring("13:00", zone="gong", length="strokes = [0.4]"),
        ),
        week(),
    )
    assert {key[:2]: why.partition(",")[0].partition(":")[0] for key, why in reasons.items()} == {
        ("north", "10:00"): "it takes 8s and most others 5s",
        ("north", "11:00"): "it has 2 strokes",
        ("north", "12:00:20"): "most others ring at second 00",
        ("gong", "13:00"): "its bells are single-stroke",
    }


# ── the calendar, and holidays ───────────────────────────────────────────────────────────────────

OPEN_DAY = plan(ring("10:00"), name="open-day")


def on_saturday(plan: str, *, lifted: bool) -> str:
    return f'[[calendar]]\non = "2027-05-08"\nplan = "{plan}"\nlift_quiet = {str(lifted).lower()}\n'


def test_a_half_day_in_which_a_plan_of_the_calendar_rings_stays_open():
    parts = plan(ring("08:30")), OPEN_DAY, week(SCHOOL_DAYS)
    assert why_not(*parts, on_saturday("open-day", lifted=False)) == {
        ("north", "08:30", "6"): "the hole for Mon would ring here too, and that day cannot be "
        "quiet: plan open-day (2027-05-08) rings in it"
    }
    assert folded(*parts, on_saturday("open-day", lifted=True)).quiet["north"] >= {(6, "day")}


def test_a_holiday_falls_on_every_weekday_in_time():
    parts = plan(ring("08:30")), OPEN_DAY, week(SCHOOL_DAYS)
    holidays = '[holidays]\ncountry = "GB"\nsubdivision = "ENG"\nplan = "open-day"\n'
    reasons = why_not(*parts, holidays)
    assert list(reasons) == [("north", "08:30", "67")]
    assert reasons["north", "08:30", "67"].endswith("plan open-day (holidays) rings in it")


def test_where_the_usual_is_brought_back_without_quiet_rows_every_hole_would_ring():
    parts = plan(ring("08:30")), week(SCHOOL_DAYS)
    assert why_not(*parts, on_saturday("usual", lifted=True)) == {
        ("north", "08:30", "6"): "the hole for Mon would ring on 2027-05-08 too, when quiet rows "
        "are lifted",
    }


def test_what_such_a_date_alone_rings_is_a_hole():
    found = folded(
        '[quiet]\nnorth = ["sat"]', plan(ring("08:30")), week(), on_saturday("usual", lifted=True)
    )
    assert found.tape.length_ns == WHOLE_DAY, "a shorter one would ring in its evening"


def test_an_entry_that_another_one_beats_does_not_count():
    parts = plan(ring("08:30")), OPEN_DAY, week(SCHOOL_DAYS)
    beaten = on_saturday("open-day", lifted=False) + on_saturday("none", lifted=False)
    assert folded(*parts, beaten).tape.holes == {"north": (510 * MINUTE,)}


def test_dates_that_are_over_do_not_count():
    house = building(
        FRAME
        + plan(ring("08:30"))
        + OPEN_DAY
        + week(SCHOOL_DAYS)
        + on_saturday("open-day", lifted=False)
    )
    with pytest.raises(NoTape):
        fold(house, date(2027, 5, 8))
    found = fold(house, date(2027, 5, 9))
    before, after = (rings(one, days=400) for one in (house, with_tape(house, found)))
    assert [on for on in before if before[on] != after[on]] == [date(2027, 5, 8)]
