"""Where a rehearsal begins and ends, and in what order it is told."""

from __future__ import annotations

from stories import ALTERNATING, HALIFAX, NORTH, every_day, ring

from controller.rehearsal.record import ImpulseRecord, MissedRecord, RingRecord

DAY = "2026-11-25"
TWO = "[zones.south]\nrelay = 27\n" + NORTH  # south stands first in the file


def test_a_ring_due_at_from_is_given_and_one_due_at_until_is_not(stage):
    text = HALIFAX + NORTH + every_day(ring("08:30"), ring("08:35"), ring("08:40"))
    told = stage.play(text, f"{DAY}T08:30", f"{DAY}T08:40")
    assert told.times(told.rings) == ["08:30:00", "08:35:00"]


def test_an_impulse_at_until_is_not_given(stage):
    told = stage.play(HALIFAX + ALTERNATING, f"{DAY}T08:30", f"{DAY}T08:40")
    assert told.times(told.impulses) == [f"08:{minute}:00" for minute in range(31, 40)]
    assert told.end.lines["main"] == (("08:39",), True, False)
    assert told.end.at == told.at(f"{DAY}T08:40")


def test_an_impulse_that_begins_before_until_is_finished(stage):
    told = stage.play(HALIFAX + ALTERNATING, f"{DAY}T08:30", f"{DAY}T08:31:00.5")
    assert told.end.impulses == 1
    assert told.end.lines["main"] == (("08:31",), True, False)


def test_a_sounding_across_until_is_whole(stage):
    text = HALIFAX + NORTH + every_day(ring("08:39:58", 5), ring("08:40:02", 5))
    told = stage.play(text, f"{DAY}T08:30", f"{DAY}T08:40")
    assert told.sounded() == [("08:39:58", "north", 9.0)]


def test_a_ring_of_the_window_that_waits_beyond_it_is_told(stage):
    zones = "".join(
        f"[zones.{name}]\nrelay = {pin}\nbells = 1\namps_each = 1.0\n"
        for name, pin in (("a", 5), ("b", 6))
    )
    text = HALIFAX + "[supply]\namps = 1.0\n" + zones + every_day(ring("08:39:55", 9, 'a", "b'))
    told = stage.play(text, f"{DAY}T08:30", f"{DAY}T08:40")
    assert told.sounded() == [("08:39:55", "a", 9.0), ("08:40:04", "b", 9.0)]


def test_an_empty_window_ends_at_once(stage):
    text = HALIFAX + NORTH + ALTERNATING + every_day(ring("08:30"))
    told = stage.play(text, f"{DAY}T08:30", f"{DAY}T08:30")
    assert told.records == [told.end]
    assert told.end.lines["main"].right is False, "08:29 held just before; they show 08:30"


def test_at_one_instant_missed_then_impulse_then_ring_in_order_of_the_file(stage):
    annex = ALTERNATING.replace("main", "annex").replace("[22, 23]", "[5, 6]")
    rings = every_day(ring("08:30:15", 5), ring("08:31", 5, 'north", "south'))
    told = stage.play(
        HALIFAX + TWO + ALTERNATING + annex + rings,
        f"{DAY}T08:29:30",
        f"{DAY}T08:32",
        steps=[(f"{DAY}T08:30:10", 50)],
    )
    at = told.at(f"{DAY}T08:30:10")  # by its clock 08:31
    kinds = [
        (type(one), getattr(one, "zone", None) or getattr(one, "line", None))
        for one in told.records
        if one.at == at
    ]
    assert kinds == [
        (MissedRecord, "north"),
        (ImpulseRecord, "main"),
        (ImpulseRecord, "annex"),
        (RingRecord, "south"),
        (RingRecord, "north"),
    ]
    assert all(a.at <= b.at for a, b in zip(told.records, told.records[1:], strict=False))


def test_the_end_counts_what_was_told(stage):
    text = HALIFAX + NORTH + ALTERNATING + every_day(ring("08:30", 8), ring("08:30:08", 8))
    told = stage.play(text, f"{DAY}T08:29", f"{DAY}T09:00", cuts=[(f"{DAY}T08:45", 60)])
    end = told.end
    counts = (len(told.rings), len(told.impulses), len(told.missed))
    assert (end.rings, end.impulses, end.missed) == counts


def test_dials_said_to_be_wrong_are_driven_or_wait_from_the_start(stage):
    behind = stage.play(
        HALIFAX + ALTERNATING, f"{DAY}T08:30", f"{DAY}T08:33", dials={"main": (500, "+")}
    )
    ahead = stage.play(
        HALIFAX + ALTERNATING, f"{DAY}T08:30", f"{DAY}T08:40", dials={"main": (515, "-")}
    )
    assert behind.times(behind.impulses[:2]) == ["08:30:00", "08:30:02"]
    assert behind.impulses[0].polarity == "-"
    assert behind.end.lines["main"] == (("08:32",), True, False)
    assert ahead.times(ahead.impulses) == ["08:36:00", "08:37:00", "08:38:00", "08:39:00"]
