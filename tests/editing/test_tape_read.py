"""From notes to the tape, and what is doubtful about it."""

from __future__ import annotations

from datetime import time
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from controller.editing.tape_fold import LENGTHS_NS
from controller.editing.tape_notes import notes_of
from controller.editing.tape_read import Scale, read_tape

SIX, TWELVE, WHOLE_DAY = LENGTHS_NS
MINUTE = 60_000_000_000
SECOND = 1_000_000_000
ZONES = ["north", "south"]


def read(column: str, *lines: str, length=TWELVE, rings=4, starts=time(6), first=None, turn=None):
    text = "\n".join((f"{column};zones", *lines))
    notes = notes_of("drum.csv", text.encode(), ZONES)
    return read_tape(notes, Scale(length, rings * SECOND, starts, first, turn))


def holes(found, zone: str = "north") -> list[str]:
    minutes = (offset // MINUTE for offset in found.tape.holes[zone])
    return [f"{minute // 60:02}:{minute % 60:02}" for minute in minutes]


def doubts(found) -> list[tuple[int, str]]:
    return [tuple(one) for one in found.doubts]


# ── three ways to measure, and what is known ─────────────────────────────────────────────────────


def test_offsets_from_the_mark_are_the_holes():
    found = read("offset", "01:00;north", "02:30;north south", "11:59;south")
    assert holes(found) == ["01:00", "02:30"]
    assert holes(found, "south") == ["02:30", "11:59"]
    assert found.tape.starts == time(6)
    assert (found.turns, found.doubts) == (1, ())


def test_clock_times_are_offsets_from_the_marks_clock_time():
    found = read("clock", "07:00;north", "20:30;north", length=WHOLE_DAY)
    assert holes(found) == ["01:00", "14:30"]


def test_a_first_hole_that_is_known_says_where_the_mark_is():
    found = read("offset", "02:30;north", "03:00;north", first=time(20, 30))
    assert found.tape.starts == time(6), "of a tape of half a day eighteen hours is six"
    assert holes(found) == ["02:30", "03:00"]


def test_a_clock_on_the_drum_that_goes_wrong_is_put_right_by_the_first_hole():
    found = read("clock", "01:13;north", "01:43;north", first=time(8, 30))
    assert found.tape.starts == time(6)
    assert holes(found) == ["02:30", "03:00"]


def test_positions_are_shares_of_a_turn():
    found = read("position", "0;north", "30;north", "345,5;north", turn=Decimal(360))
    assert holes(found) == ["00:00", "01:00", "11:31"]


def test_with_a_known_first_hole_the_others_are_whole_minutes_from_it_and_not_from_the_mark():
    """The mark was drawn by hand, 25 s off."""
    lines = "30.2;north", "45.2;north", "60.2;north"
    assert read("position", *lines, turn=Decimal(360), first=time(7)).doubts == ()
    from_the_mark = read("position", *lines, turn=Decimal(360))
    assert doubts(from_the_mark)[0] == (2, "30.2 is 24 s from a whole minute; taken as 01:00")
    assert len(from_the_mark.doubts) == 3


# ── doubts ───────────────────────────────────────────────────────────────────────────────────────


def test_a_note_that_is_there_twice():
    found = read("offset", "01:00;north", "01:00;south north", "02:00;north")
    assert doubts(found) == [(3, "north at 01:00 is noted in line 2 too: one hole")]
    assert holes(found) == ["01:00", "02:00"]


def test_holes_nearer_than_a_tape_can_be_punched():
    found = read("position", "30.2;north", "30.35;north", turn=Decimal(360))
    assert (3, "north is 18 s from line 2: holes are a minute apart at least; both are kept") in (
        doubts(found)
    )
    other_zone = read("position", "30.0;north", "30.15;south", turn=Decimal(360))
    assert other_zone.doubts == ()


def test_a_ring_that_is_still_on_when_the_next_begins_also_about_the_end_of_the_tape():
    lines = "00:00;north", "05:00;north", "05:01;north", "11:59;north"
    assert read("offset", *lines, rings=59).doubts == ()
    assert doubts(read("offset", *lines, rings=60)) == [
        (2, "north at 00:00 rings on from 11:59, for a hole rings 60s: one sounding"),
        (4, "north at 05:01 rings on from 05:00, for a hole rings 60s: one sounding"),
    ]


def test_notes_out_of_order():
    slip = read("offset", "01:00;north", "02:00;north", "21:00;north", "03:00;north")
    assert doubts(slip) == [
        (4, "21:00 is out of order: a slip of the pen, or was the drum turned back?")
    ]
    assert slip.turns == 1
    back = read("offset", *(f"0{hour}:00;north" for hour in (1, 4, 5, 2, 3)))
    assert doubts(back) == [(5, "02:00 lies before the line above: was the drum turned back?")]


def test_what_is_marked_uncertain_is_kept_and_told():
    found = read("offset", "01:00?;north")
    assert doubts(found) == [(2, "marked ? by whoever noted it; it is kept")]
    assert holes(found) == ["01:00"]


# ── several turns ────────────────────────────────────────────────────────────────────────────────


def test_turns_that_agree_are_one_tape_without_doubts():
    turn = "01:00;north", "02:30;south", "11:00;north"
    found = read("offset", *turn, *turn, *turn)
    assert (found.turns, found.doubts) == (3, ())
    assert holes(found) == ["01:00", "11:00"]
    clock = read("clock", "07:00;north", "17:00;north", "19:00;north", "05:00;north", "07:00;north")
    assert (clock.turns, clock.doubts) == (3, ())
    assert holes(clock) == ["01:00", "11:00"]


def test_whoever_counts_on_beyond_the_length_is_in_another_turn():
    found = read("offset", "01:00;north", "11:00;north", "13:00;north", "23:00;north")
    assert doubts(found) == [(4, "13:00 lies beyond the tape's length: taken as another turn")]
    assert found.turns == 2
    assert holes(found) == ["01:00", "11:00"]


def test_a_hole_that_only_one_turn_has():
    found = read(
        "offset", "01:00;north", "02:00;south", "11:00;north", "01:00;north", "03:00;north"
    )  # the second turn ends at 03:00
    assert doubts(found) == [
        (3, "south at 02:00 is not noted in turn 2; it is kept"),
        (6, "north at 03:00 is not noted in turn 1; it is kept"),
    ]
    assert holes(found, "south") == ["02:00"]


def test_turns_that_differ_by_a_minute_are_one_hole_that_of_most_turns():
    ends = "01:00;north", "11:00;north"
    found = read("offset", "01:00;north", "05:00;north", "11:00;north",
                 "01:00;north", "05:01;north", "11:00;north",
                 "01:00;north", "05:01;north", *ends[1:])  # fmt: skip
    assert doubts(found) == [
        (3, "north at 05:00, and in line 6 of another turn at 05:01: taken as one hole at 05:01")
    ]
    assert holes(found) == ["01:00", "05:01", "11:00"]


def test_holes_a_minute_apart_that_every_turn_has_are_two():
    turn = "01:00;north", "05:00;north", "05:01;north", "11:00;north"
    found = read("offset", *turn, *turn)
    assert found.doubts == ()
    assert holes(found) == ["01:00", "05:00", "05:01", "11:00"]


# ── every tape ───────────────────────────────────────────────────────────────────────────────────


@given(
    st.sampled_from(LENGTHS_NS),
    st.sets(st.integers(0, 359), min_size=1, max_size=30),
    st.integers(0, 1439),
    st.lists(st.integers(-19, 19), min_size=70, max_size=70),
    st.data(),
)
def test_a_tape_noted_anyhow_within_twenty_seconds_is_read_as_it_was_punched(
    length, punched, starts, errors, data
):
    """Noted from any hole on for one turn, in degrees, each a little off; the first not."""
    at = sorted(minute * (length // SIX) for minute in punched)
    begin = data.draw(st.integers(0, len(at) - 1))
    turn = [*at[begin:], *at[:begin]]
    per_minute = Decimal(360) / (length // MINUTE)
    lines = [
        f"{(360 + (minute + Decimal(error if place else 0) / 60) * per_minute) % 360:.8f};north"
        for place, (minute, error) in enumerate(zip(turn, errors, strict=False))
    ]
    known = (starts + turn[0]) % 1440
    first = time(*divmod(known, 60))
    found = read("position", *lines, length=length, first=first, turn=Decimal(360))
    assert not [one for one in found.doubts if "whole minute" in one.says]
    rung = {
        (found.tape.starts.hour * 60 + found.tape.starts.minute + offset // MINUTE)
        % (length // MINUTE)
        for offset in found.tape.holes["north"]
    }
    assert rung == {(starts + minute) % (length // MINUTE) for minute in at}
