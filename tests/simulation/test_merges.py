"""Rings of a zone whose spans overlap or touch are one sounding, within the contact's limits."""

from __future__ import annotations

import pytest
from stories import HALIFAX, NORTH, every_day, ring

DAY = "2026-11-25"


def play(stage, *rings: str, zone: str = "", rest: str = "", until: str = "08:40"):
    text = HALIFAX + NORTH + zone + every_day(*rings) + rest
    return stage.play(text, f"{DAY}T08:29", f"{DAY}T{until}")


def test_touching_spans_are_one_sounding(stage):
    told = play(stage, ring("08:30", 5, says="First"), ring("08:30:05", 3, says="Second"))
    assert told.sounded() == [("08:30:00", "north", 8.0)]
    assert told.rings[0].says == "First / Second"
    assert not told.rings[0].cut


def test_spans_a_second_apart_are_two(stage):
    told = play(stage, ring("08:30", 5), ring("08:30:06", 3))
    assert told.sounded() == [("08:30:00", "north", 5.0), ("08:30:06", "north", 3.0)]


def test_the_same_text_stands_once(stage):
    told = play(stage, ring("08:30", 5, says="Fire"), ring("08:30:02", 5, says="Fire"))
    assert (told.sounded(), told.rings[0].says) == ([("08:30:00", "north", 7.0)], "Fire")


def test_a_ring_within_another_adds_nothing(stage):
    told = play(stage, ring("08:30", 9), ring("08:30:02", 3), ring("08:30:04", 5))
    assert told.sounded() == [("08:30:00", "north", 9.0)]


def test_up_to_longest_exactly_nothing_is_cut(stage):
    told = play(stage, ring("08:30", 5), ring("08:30:05", 5), zone='longest = "10s"\n')
    assert told.sounded() == [("08:30:00", "north", 10.0)]
    assert not told.rings[0].cut


def test_beyond_longest_it_ends_and_what_has_not_begun_is_missed_there(stage):
    told = play(
        stage, ring("08:30", 6), ring("08:30:05", 6), ring("08:30:10", 6), ring("08:30:16", 6)
    )
    assert told.sounded() == [("08:30:00", "north", 10.0)]
    assert told.rings[0].cut
    assert told.misses() == [("08:30:10", "north", "longest"), ("08:30:16", "north", "longest")]
    assert told.times(told.missed) == ["08:30:10", "08:30:10"], "settled when the sounding ended"


def test_after_a_sounding_that_was_cut_the_next_rings(stage):
    told = play(stage, ring("08:30", 6), ring("08:30:05", 6), ring("08:30:12", 2))
    assert told.sounded() == [("08:30:00", "north", 10.0), ("08:30:12", "north", 2.0)]
    assert told.missed == []


def test_strokes_let_a_sounding_go_on_longer_than_longest(stage):
    strokes = '{ at = "08:30", zones = ["north"], strokes = [4, 1, 4, 1, 4] }'
    told = play(stage, strokes)
    assert told.sounded() == [("08:30:00", "north", 14.0)]
    assert not told.rings[0].cut


def test_a_minute_ends_a_sounding_and_misses_the_rest(stage):
    zone = 'longest = "10s"\na_minute = "12s"\n'
    told = play(
        stage,
        ring("08:30", 8),
        ring("08:30:20", 8),
        ring("08:30:26", 6),
        ring("08:31:40", 8),
        zone=zone,
    )
    assert told.sounded() == [
        ("08:30:00", "north", 8.0),
        ("08:30:20", "north", 4.0),  # 12 s within a minute
        ("08:31:40", "north", 8.0),
    ]
    assert [one.cut for one in told.rings] == [False, True, False]
    assert told.misses() == [("08:30:26", "north", "a-minute")]
    assert told.times(told.missed) == ["08:30:24"]


def test_a_minute_gives_back_what_is_a_minute_old(stage):
    zone = 'longest = "10s"\na_minute = "10s"\n'
    told = play(stage, ring("08:30", 10), ring("08:31", 10), ring("08:31:59", 10), zone=zone)
    # at 08:31:59 all 10 s lie within the last minute but for what was given before 08:30:59: none
    assert told.sounded() == [("08:30:00", "north", 10.0), ("08:31:00", "north", 10.0)]
    assert told.misses() == [("08:31:59", "north", "a-minute")]


def test_across_midnight_two_dates_are_one_sounding(stage):
    text = (
        HALIFAX
        + NORTH
        + every_day(ring("23:59:57", 5, says="Late"), ring("00:00", 4, says="Early"))
    )
    told = stage.play(text, f"{DAY}T23:00", "2026-11-26T01:00")
    assert told.sounded() == [("23:59:57", "north", 7.0)]
    assert told.rings[0].says == "Late / Early"


def test_tape_and_week_join(stage):
    tape = '[tape]\nlength = "12h"\nfor = "4s"\n[tape.holes]\nnorth = ["08:30", "08:31"]\n'
    told = play(stage, ring("08:30", 6, says="First class"), ring("08:31:03", 4), rest=tape)
    assert told.sounded() == [("08:30:00", "north", 6.0), ("08:31:00", "north", 7.0)]
    assert told.rings[0].says == "First class"


def test_the_tape_alone_rings_in_the_evening_too(stage):
    tape = '[tape]\nlength = "12h"\nfor = "4s"\n[tape.holes]\nnorth = ["08:30"]\n'
    told = stage.play(HALIFAX + NORTH + tape, f"{DAY}T00:00", "2026-11-26T00:00")
    assert told.times(told.rings) == ["08:30:00", "20:30:00"]


@pytest.mark.parametrize("quiet", ["wed night", "wed"])
def test_a_sounding_begun_before_a_quiet_half_goes_on_into_it(stage, quiet):
    rest = f'[quiet]\nnorth = ["{quiet}"]\n'
    text = HALIFAX + NORTH + every_day(ring("17:59:57", 6), ring("18:00", 6)) + rest
    told = stage.play(text, f"{DAY}T17:00", f"{DAY}T19:00")
    # the ring of 18:00 is of the night and silent, not missed; that of 17:59:57 is of the day
    assert told.sounded() == ([("17:59:57", "north", 6.0)] if quiet == "wed night" else [])
    assert told.missed == []


def test_a_night_belongs_to_the_day_on_which_it_began(stage):
    rest = '[quiet]\nnorth = ["fri night"]\n'
    text = HALIFAX + NORTH + every_day(ring("02:00"), ring("19:00")) + rest
    told = stage.play(text, "2026-11-27T00:00", "2026-11-29T00:00")  # Friday and Saturday
    assert [
        (told.civil.date_at(r.at).day, at)
        for r, at in zip(told.rings, told.times(told.rings), strict=True)
    ] == [
        (27, "02:00:00"),
        (28, "19:00:00"),
    ]
