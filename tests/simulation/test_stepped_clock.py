"""Somebody steps the system's clock. Skipped rings are late, repeated ones not given twice."""

from __future__ import annotations

import itertools

import pytest
from stories import ALTERNATING, HALIFAX, NORTH, SECOND, every_day, ns, ring

from controller.dials.position import face_text, true_position
from controller.engine.records import MissRow
from controller.rehearsal.world import World

DAY = "2026-11-25"
TEXT = HALIFAX + NORTH + every_day(ring("08:30"), ring("09:15"), ring("10:00"))
HOUR = 3600.0


def stepped(stage, *steps: tuple[str, float], until: str = "08:40", text: str = TEXT):
    return stage.play(
        text,
        f"{DAY}T08:29",
        until if "T" in until else f"{DAY}T{until}",
        steps=[(f"{DAY}T{at}", by) for at, by in steps],
    )


@pytest.mark.parametrize(
    ("at", "by", "outside"),
    [
        ("08:29:40", 0.3, "08:29:59.700"),
        ("08:29:59.5", 0.3, "08:29:59.700"),  # stored and sent already
        ("08:29:59.9", 0.3, "08:29:59.900"),  # 08:30 is skipped, by less than grace
        ("08:29:59.5", -0.3, "08:30:00.300"),
        ("08:29:40", 2, "08:29:58"),
        ("08:29:59", 2, "08:29:59"),
        ("08:29:59.5", -2, "08:30:02"),
        ("08:29:30", 40, "08:29:30"),  # late by 10 s
        ("08:29:50", 40, "08:29:50"),  # late by 30 s: the last instant of grace
        ("08:29:50", -40, "08:30:40"),
    ],
)
def test_a_ring_follows_the_stepped_clock_and_is_given_once(stage, at, by, outside):
    told = stepped(stage, (at, by))
    assert told.sounded() == [(outside, "north", 5.0)]
    assert told.rings[0].clock == told.rings[0].at + ns(by)
    assert told.missed == []


def test_a_ring_skipped_by_more_than_grace_is_missed(stage):
    told = stepped(stage, ("08:29:51", 40))
    assert told.rings == []
    assert told.misses() == [("08:30:00", "north", "late")]
    assert told.times(told.missed) == ["08:29:51"]


@pytest.mark.parametrize("by", [-0.3, -2.0, -40.0])
def test_a_repeated_ring_is_not_given_twice(stage, by):
    assert stepped(stage, ("08:30:10", by)).sounded() == [("08:30:00", "north", 5.0)]


@pytest.mark.parametrize("by", [0.3, -0.3, 2.0, -2.0, 40.0, -40.0, HOUR, -HOUR, 24 * HOUR + 60])
def test_a_sounding_that_has_begun_keeps_its_length(stage, by):
    told = stepped(stage, ("08:30:02", by))
    assert told.sounded()[0] == ("08:30:00", "north", 5.0)
    assert not told.rings[0].cut
    assert len(told.rings) == 1


def test_a_miss_is_withdrawn_when_the_clock_comes_back(stage):
    building = stage.building(TEXT)
    script = stage.script(
        building,
        f"{DAY}T08:29",
        f"{DAY}T08:40",
        steps=[(f"{DAY}T08:29:51", 40), (f"{DAY}T08:29:55", -40)],
    )
    world = World(building, script)
    records = [*world.run(), world.end_record()]
    assert [(type(one).__name__, one.at - script.start_utc) for one in records[:2]] == [
        ("MissedRecord", 51 * SECOND),
        ("RingRecord", 60 * SECOND),
    ]
    (miss,) = (row for row in world.store.values() if isinstance(row, MissRow))
    assert (miss.written, miss.why) == (f"{DAY}T08:30:00", ""), "the logbook takes it back"


def test_a_step_onto_the_next_days_ring_joins_it_to_the_sounding(stage):
    told = stepped(stage, ("08:30:02", 24 * HOUR))
    assert told.sounded() == [("08:30:00", "north", 7.05)], "late by 2.05 s, and whole"


def test_an_hour_forwards_skips_a_ring(stage):
    told = stepped(stage, ("08:45", HOUR), until="09:30")
    assert told.sounded() == [("08:30:00", "north", 5.0), ("09:00:00", "north", 5.0)]
    assert told.misses() == [("09:15:00", "north", "late")]


def test_an_hour_back_repeats_no_ring(stage):
    told = stepped(stage, ("09:20", -HOUR), until="11:10")
    assert told.sounded() == [
        ("08:30:00", "north", 5.0),
        ("09:15:00", "north", 5.0),
        ("11:00:00", "north", 5.0),  # 10:00 by its clock
    ]
    assert told.missed == []


def test_a_day_forwards_misses_a_day_of_rings(stage):
    told = stepped(stage, ("08:45", 24 * HOUR), until="10:30")
    assert told.misses() == [
        ("09:15:00", "north", "late"),
        ("10:00:00", "north", "late"),
        ("08:30:00", "north", "late"),
    ]
    assert told.times(told.rings) == ["08:30:00", "09:15:00", "10:00:00"]


def test_a_day_back_and_again_forwards_gives_nothing_twice(stage):
    told = stepped(stage, ("08:45", -24 * HOUR), ("09:00", 24 * HOUR), until="10:30")
    assert told.times(told.rings) == ["08:30:00", "09:15:00", "10:00:00"]
    assert told.missed == []


@pytest.mark.parametrize("restarted", [False, True])
def test_what_a_clock_days_ahead_has_rung_is_rung_on_its_own_day(stage, restarted):
    told = stage.play(
        TEXT,
        f"{DAY}T08:29",
        "2026-11-29T00:00",
        steps=[(f"{DAY}T08:45", 72 * HOUR), (f"{DAY}T09:20", -72 * HOUR)],
        cuts=[("2026-11-26T12:00", 60)] if restarted else [],
    )
    # Saturday's 09:15 was rung on Wednesday by a wrong clock, and is rung on Saturday all the same
    assert len(told.rings) == 1 + 1 + 1 + 3 * 3
    assert told.times(told.rings[-3:]) == ["08:30:00", "09:15:00", "10:00:00"]
    assert told.times(told.rings[1:3]) == ["09:15:00", "10:00:00"]


def test_what_a_clock_hours_ahead_has_rung_is_not_rung_again(stage):
    told = stepped(stage, ("08:45", HOUR), ("09:05", -HOUR), until="11:00")
    # 10:00 was rung at 09:00; 09:15 was skipped and late, and is given after all
    assert told.sounded() == [
        ("08:30:00", "north", 5.0),
        ("09:00:00", "north", 5.0),
        ("09:15:00", "north", 5.0),
    ]
    assert told.misses() == [("09:15:00", "north", "late")]


def test_a_first_start_days_ahead_does_not_silence_the_days_between(stage):
    told = stage.play(
        TEXT,
        "2026-11-28T08:00",
        "2026-11-28T12:00",
        steps=[("2026-11-28T08:10", -72 * HOUR)],
    )
    assert [told.civil.aware(one.due).day for one in told.rings] == [25, 25, 25]


@pytest.mark.parametrize("by", [0.3, -0.3, 2.0, -2.0, 40.0, -40.0, HOUR, -HOUR, 24 * HOUR])
@pytest.mark.parametrize("at", ["09:00:00.4", "09:00:30", "09:00:59.5"])
def test_dials_come_right_by_the_clock(stage, by, at):
    until = "11:00:30"
    told = stepped(stage, (at, by), until=until, text=HALIFAX + ALTERNATING)
    line = told.building.lines["main"]
    clock = told.at(f"{DAY}T{until}") + ns(by)
    shown = face_text(line, true_position(line, told.civil, clock))
    assert told.end.lines["main"] == ((shown,), True, False)
    given = [one.polarity for one in told.impulses]
    assert all(a != b for a, b in itertools.pairwise(given))


def test_an_hour_forwards_is_a_catch_up_and_an_hour_back_a_wait(stage):
    forwards = stepped(stage, ("09:00", HOUR), until="09:10", text=HALIFAX + ALTERNATING)
    back = stepped(stage, ("09:00:30", -HOUR), until="10:05", text=HALIFAX + ALTERNATING)
    # 08:30 up to 09:00, an hour, then 10:03 by its clock up to 10:09
    assert forwards.end.impulses == 31 + 60 + 9
    assert back.times(back.impulses)[30:32] == ["09:00:00", "10:01:00"]


def test_a_step_a_minute_for_an_hour_ends_right(stage):
    steps = [(f"09:{minute:02}:{minute:02}", (-1) ** minute * 37.5) for minute in range(60)]
    told = stepped(stage, *steps, until="10:30", text=TEXT + ALTERNATING)
    assert told.end.lines["main"].right
    assert len({(one.zone, one.due) for one in told.rings}) == len(told.rings)
    assert {one.due for one in (*told.rings, *told.missed)} == {
        told.at(f"{DAY}T{at}") for at in ("08:30", "09:15", "10:00")
    }
