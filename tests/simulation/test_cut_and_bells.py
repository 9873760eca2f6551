"""The power goes, and rings are due before, during and after."""

from __future__ import annotations

from stories import ALTERNATING, HALIFAX, NORTH, SECOND, every_day, ring

DAY = "2026-11-25"
TEXT = HALIFAX + NORTH + every_day(ring("08:30"), ring("08:31"), ring("12:00"), ring("21:00"))


def test_a_ring_that_is_cut_is_never_given_again(stage):
    told = stage.play(TEXT, f"{DAY}T08:29", f"{DAY}T08:40", cuts=[(f"{DAY}T08:30:02", 1)])
    # up at 08:30:23, well within the grace of 30 s
    assert told.sounded() == [("08:30:00", "north", 2.0), ("08:31:00", "north", 5.0)]
    assert [one.cut for one in told.rings] == [True, False]
    assert told.missed == []


def test_a_ring_stored_and_not_begun_counts_as_cut_and_is_never_given(stage):
    told = stage.play(TEXT, f"{DAY}T08:29", f"{DAY}T08:40", cuts=[(f"{DAY}T08:29:59.5", 1)])
    assert told.sounded() == [("08:30:00", "north", 0.0), ("08:31:00", "north", 5.0)]
    assert [one.cut for one in told.rings] == [True, False]
    assert told.missed == []


def test_what_was_due_before_the_start_is_missed_off_though_grace_is_not_over(stage):
    told = stage.play(TEXT, f"{DAY}T08:29", f"{DAY}T08:40", cuts=[(f"{DAY}T08:29:50", 1)])
    # up at 08:30:11: after a boot the fence is the daemon's start
    assert told.misses() == [("08:30:00", "north", "off")]
    assert told.times(told.missed) == ["08:30:11"]
    assert told.sounded() == [("08:31:00", "north", 5.0)]


def test_a_ring_due_as_the_daemon_starts_is_given(stage):
    told = stage.play(TEXT, f"{DAY}T08:29", f"{DAY}T08:40", cuts=[(f"{DAY}T08:29:39", 1)])
    assert told.sounded()[0] == ("08:30:00", "north", 5.0)
    assert told.missed == []


def test_thirteen_hours_without_power(stage):
    told = stage.play(
        TEXT + ALTERNATING,
        f"{DAY}T20:00",
        "2026-11-26T13:00",
        cuts=[(f"{DAY}T20:30:10", 13 * 3600)],
    )
    assert told.misses() == [
        ("21:00:00", "north", "off"),
        ("08:30:00", "north", "off"),
        ("08:31:00", "north", "off"),
    ]
    assert told.sounded() == [("12:00:00", "north", 5.0)]
    # 13 h on a 12 h face: the last impulse again, then 60, and one each for 09:31 and 09:32
    driven = [one for one in told.impulses if told.at("2026-11-26T09:30") < one.at][:63]
    assert (driven[0].again, driven[0].shows) == (True, "08:30")
    assert told.times(driven[:2]) == ["09:30:31", "09:30:33"]
    assert driven[-1].shows == "09:32"
    assert driven[-1].at - driven[0].at == 62 * 2 * SECOND
    assert told.end.lines["main"] == (("00:59",), True, False)


def test_cuts_on_two_days_each_miss_their_own(stage):
    told = stage.play(
        TEXT,
        f"{DAY}T00:00",
        "2026-11-27T00:00",
        cuts=[(f"{DAY}T11:00", 7200), ("2026-11-26T20:00", 7200)],
    )
    assert told.misses() == [("12:00:00", "north", "off"), ("21:00:00", "north", "off")]
    assert [told.civil.date_at(one.due).day for one in told.missed] == [25, 26]
    assert told.end.rings == 6


def test_after_a_long_absence_a_thousand_misses_are_told_singly_and_the_rest_counted(stage):
    rings = (ring(f"{hour:02}:{minute:02}") for hour in range(24) for minute in range(0, 60, 5))
    text = HALIFAX + NORTH + every_day(*rings)
    told = stage.play(text, f"{DAY}T00:00", "2026-12-01T00:00", cuts=[(f"{DAY}T12:01", 4 * 86_400)])
    assert len(told.missed) == 1_000
    assert told.end.missed == 4 * 288
    assert told.end.rings + told.end.missed == 6 * 288
