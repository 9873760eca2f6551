"""Zones share what the lines leave of the supply, and wait in strict order."""

from __future__ import annotations

from stories import HALIFAX, every_day, ring

DAY = "2026-11-25"


def zones(**amps: float) -> str:
    return "".join(
        f"[zones.{name}]\nrelay = {pin}\nbells = 1\namps_each = {each}\n"
        f'longest = "60s"\na_minute = "60s"\n'
        for pin, (name, each) in enumerate(amps.items(), 5)
    )


def play(stage, supply: str, zones: str, *rings: str, rest: str = ""):
    text = f"{HALIFAX}{supply}{zones}{every_day(*rings)}{rest}"
    return stage.play(text, f"{DAY}T08:29", f"{DAY}T08:40", lines=False)


ONE = "[supply]\namps = 1.0\n"


def test_zones_that_fit_sound_together_and_others_wait_in_order_of_the_file(stage):
    told = play(stage, ONE, zones(a=0.5, b=0.5, c=0.5, d=0.5), ring("08:30", 5, 'a", "b", "c", "d'))
    assert told.sounded() == [
        ("08:30:00", "a", 5.0),
        ("08:30:00", "b", 5.0),
        ("08:30:05", "c", 5.0),
        ("08:30:05", "d", 5.0),
    ]


def test_none_overtakes_though_it_would_fit(stage):
    told = play(
        stage,
        ONE,
        zones(a=0.6, b=0.6, c=0.2),
        ring("08:30", 8, "a"),
        ring("08:30:01", 4, "b"),
        ring("08:30:02", 4, "c"),
    )
    assert told.sounded() == [
        ("08:30:00", "a", 8.0),
        ("08:30:08", "b", 4.0),
        ("08:30:08", "c", 4.0),
    ]


def test_due_goes_before_the_place_in_the_file(stage):
    told = play(
        stage,
        ONE,
        zones(a=1.0, b=1.0, c=1.0),
        ring("08:30", 8, "c"),
        ring("08:30:01", 4, "b"),
        ring("08:30:02", 4, "a"),
    )
    assert told.sounded() == [
        ("08:30:00", "c", 8.0),
        ("08:30:08", "b", 4.0),
        ("08:30:12", "a", 4.0),
    ]


def test_a_zone_without_current_waits_for_nobody(stage):
    told = play(
        stage, ONE, zones(a=1.0, b=1.0) + "[zones.c]\nrelay = 20\n", ring("08:30", 5, 'a", "b", "c')
    )
    assert told.sounded() == [
        ("08:30:00", "a", 5.0),
        ("08:30:00", "c", 5.0),
        ("08:30:05", "b", 5.0),
    ]


def test_one_that_cannot_begin_within_grace_is_missed(stage):
    told = play(stage, ONE, zones(a=1.0, b=1.0, c=1.0), ring("08:30", 20, 'a", "b", "c'))
    assert told.sounded() == [("08:30:00", "a", 20.0), ("08:30:20", "b", 20.0)]
    assert told.misses() == [("08:30:00", "c", "supply")]
    assert told.times(told.missed) == ["08:30:30"]


def test_one_that_can_begin_at_the_last_instant_of_grace_does(stage):
    told = play(stage, ONE, zones(a=1.0, b=1.0), ring("08:30", 30, 'a", "b'))
    assert told.sounded() == [("08:30:00", "a", 30.0), ("08:30:30", "b", 30.0)]
    assert told.missed == []


def test_one_that_is_missed_holds_those_behind_it_back_no_longer(stage):
    told = play(
        stage,
        ONE,
        zones(a=0.6, b=1.0, c=0.4),
        ring("08:30", 40, 'a", "b'),
        ring("08:30:15", 4, "c"),
    )
    assert told.misses() == [("08:30:00", "b", "supply")]
    assert told.sounded() == [("08:30:00", "a", 40.0), ("08:30:30", "c", 4.0)]


def test_the_lines_keep_their_share_at_all_times(stage):
    line = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\ndials = 10\namps_each = 0.05\n'
    told = play(stage, ONE, zones(a=0.3, b=0.3), ring("08:30", 5, 'a", "b'), rest=line)
    assert told.sounded() == [("08:30:00", "a", 5.0), ("08:30:05", "b", 5.0)]


def test_a_supply_without_amps_is_unlimited(stage):
    told = play(stage, "", zones(a=9.0, b=9.0, c=9.0), ring("08:30", 5, 'a", "b", "c'))
    assert [at for at, _, _ in told.sounded()] == ["08:30:00"] * 3


def test_a_ring_that_waited_joins_the_next_of_its_zone_where_they_meet(stage):
    told = play(
        stage, ONE, zones(a=1.0, b=1.0), ring("08:30", 10, 'a", "b'), ring("08:30:12", 4, "b")
    )
    assert told.sounded() == [("08:30:00", "a", 10.0), ("08:30:10", "b", 10.0)]
    assert told.rings[1].due == told.at(f"{DAY}T08:30:00")
