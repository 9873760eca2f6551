"""Spring: the clock skips an hour, and dials that are behind are driven after it."""

from __future__ import annotations

import itertools
from datetime import timedelta

import pytest
from stories import ALTERNATING, HALIFAX, NORTH, SECOND, catch_up, every_day, ring

NIGHT = "2026-03-08"  # in Halifax 02:00 is 03:00


def test_an_hour_is_caught_up_by_63_impulses_and_right_at_03_02_05(stage):
    told = stage.play(HALIFAX + ALTERNATING, f"{NIGHT}T01:58", f"{NIGHT}T03:03")
    driven = [one for one in told.impulses if one.at >= told.at(f"{NIGHT}T03:00")]
    assert told.times(driven[:3]) == ["03:00:00", "03:00:02", "03:00:04"]
    # 01:59 to 03:00 are 61; two more minutes begin meanwhile; the 63rd begins 124 s on
    assert len(driven) == 63
    assert told.times(driven[-1:]) == ["03:02:04"]
    assert [one.shows for one in driven[::62]] == ["02:00", "03:02"]
    assert told.end.lines["main"] == (("03:02",), True, False)


@pytest.mark.parametrize(
    ("impulse", "gap", "every"),
    [(1, 1, 60), (0.5, 0.5, 60), (2, 3, 60), (0.2, 0.2, 60), (1, 1, 30), (0.3, 0.2, 30)],
)
@pytest.mark.parametrize("face", ["12h", "24h"])
def test_a_catch_up_follows_its_formula(stage, impulse, gap, every, face):
    line = f'{ALTERNATING}impulse = "{impulse}s"\ngap = "{gap}s"\nevery = "{every}s"\n'
    told = stage.play(f'{HALIFAX}{line}face = "{face}"\n', f"{NIGHT}T01:58", f"{NIGHT}T03:20")
    change = told.at(f"{NIGHT}T03:00")
    number, after = catch_up(3600 // every + 1, impulse, gap, every)
    driven = [one for one in told.impulses if one.at >= change][:number]
    steps = {b.at - a.at for a, b in itertools.pairwise(driven)}
    assert steps == {round((impulse + gap) * 1000) * SECOND // 1000}, "no faster and no slower"
    ended = timedelta(microseconds=(driven[-1].at - change) // 1000) + timedelta(seconds=impulse)
    assert ended == after
    rest = [one.at for one in told.impulses if one.at > driven[-1].at]
    assert all(at % (every * SECOND) == 0 for at in rest), "right again: one a step, on the step"
    assert told.end.lines["main"].right


def test_no_two_impulses_of_a_catch_up_have_the_same_polarity(stage):
    told = stage.play(HALIFAX + ALTERNATING, f"{NIGHT}T01:50", f"{NIGHT}T03:10")
    given = [one.polarity for one in told.impulses]
    assert len(given) > 60
    assert all(a != b for a, b in itertools.pairwise(given))


def test_a_ring_in_the_skipped_hour_is_read_with_the_offset_before_it(stage):
    # RFC 5545 §3.3.5: 02:30 is then 03:30
    told = stage.play(
        HALIFAX + NORTH + every_day(ring("02:30")), f"{NIGHT}T01:30", f"{NIGHT}T04:00"
    )
    assert told.sounded() == [("03:30:00", "north", 5.0)]


def test_dials_of_half_minutes_show_seconds(stage):
    told = stage.play(
        HALIFAX + ALTERNATING + 'every = "30s"\n', "2026-03-09T12:00", "2026-03-09T12:02"
    )
    assert [(one.shows, one.polarity) for one in told.impulses] == [
        ("00:00:30", "+"),
        ("00:01:00", "-"),
        ("00:01:30", "+"),
    ], "noon on a 12 h face is 00:00"
