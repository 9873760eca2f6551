"""Autumn: the clock repeats an hour; dials stand until time reaches them, or are driven round."""

from __future__ import annotations

from stories import ALTERNATING, HALIFAX, MINUTE, NORTH, SECOND, catch_up, every_day, ring

SUMMER, WINTER = "2026-11-01T01:{}-03:00", "2026-11-01T01:{}-04:00"


def test_the_dials_stand_for_an_hour(stage):
    told = stage.play(HALIFAX + ALTERNATING, SUMMER.format("57"), "2026-11-01T02:03")
    at = [one.at for one in told.impulses]
    assert at[:2] == [told.at(SUMMER.format("58")), told.at(SUMMER.format("59"))]
    assert at[2] == told.at("2026-11-01T02:00"), "time has reached what they show: 01:59"
    assert at[2] - at[1] == 61 * MINUTE
    assert [one.shows for one in told.impulses] == ["01:58", "01:59", "02:00", "02:01", "02:02"]
    assert told.end.lines["main"] == (("02:02",), True, False)


def test_with_little_patience_they_are_driven_round_the_face(stage):
    line = ALTERNATING + 'patience = "30m"\n'
    told = stage.play(HALIFAX + line, SUMMER.format("57"), "2026-11-01T02:03")
    change = told.at(WINTER.format("00"))
    number, after = catch_up(720 - 59, 1, 1, 60)  # they show 01:59 when it is 01:00
    driven = [one for one in told.impulses if one.at >= change][:number]
    assert number == 683
    assert driven[0].at == change
    assert driven[-1].at + SECOND - change == after.total_seconds() * SECOND
    assert driven[-1].shows == "01:22"
    assert told.end.lines["main"] == (("02:02",), True, False)


def test_patience_of_exactly_59_minutes_is_enough_and_58_is_not(stage):
    def impulses(patience: str) -> int:
        line = f'{ALTERNATING}patience = "{patience}"\n'
        return stage.play(HALIFAX + line, SUMMER.format("57"), WINTER.format("30")).end.impulses

    assert impulses("59m") == 2
    assert impulses("58m") > 600


def test_a_ring_in_the_repeated_hour_is_given_once_and_first(stage):
    told = stage.play(
        HALIFAX + NORTH + every_day(ring("01:30")), "2026-11-01T00:00", "2026-11-01T04:00"
    )
    assert [one.at for one in told.rings] == [told.at(SUMMER.format("30"))]
    assert told.missed == []
