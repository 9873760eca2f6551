"""What a person noted of a tape, read from a table however a spreadsheet or a hand wrote it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from controller.building.faults import Faults
from controller.editing.tape_notes import notes_of

ZONES = ["north", "south"]
HALF_PAST_EIGHT = Decimal(510 * 60 * 1_000_000_000)


def read(text: str | bytes):
    content = text if isinstance(text, bytes) else text.encode()
    return notes_of("drum.csv", content, ZONES)


def faults(text: str | bytes) -> list[str]:
    with pytest.raises(Faults) as raised:
        read(text)
    return [str(one) for one in raised.value.faults]


@pytest.mark.parametrize(
    "text",
    [
        "offset,zones\n08:30,north\n",
        "zones;offset\r\nnorth;08:30\r\n",
        "offset\tzones\r08:30\tnorth",
        '"offset" , "zones"\n "08:30" , "north" \n',
        "\ufeffOffset,ZONES\n\n# a comment\n  8:30 , North\n\n",
        "offset (since the mark),zone,seen by,weather\n8.30,north,me,rain",
        "offset,zones\n8h30:00,north",
        b"offset,zones,r\xe9marque\n08:30,north,caf\xe9\n",
        "offset,zones\n08:30,north\n".encode("utf-16"),
    ],
)
def test_however_it_is_written_it_is_the_same_note(text):
    found = read(text)
    assert found.measure == "offset"
    (note,) = found.notes
    assert (note.measured, note.zones, note.uncertain) == (HALF_PAST_EIGHT, ("north",), False)


@pytest.mark.parametrize(
    "zones",
    ["north south", "north;south", "north + south", '"north, south"', "north/south", "all", "*",
     "south & north & south"],
)  # fmt: skip
def test_several_zones_in_one_line(zones):
    (note,) = read(f"offset,zones\n08:30,{zones}\n").notes
    assert sorted(note.zones) == ZONES


def test_zones_parted_as_the_columns_are_where_they_come_last():
    assert read("offset,zones\n08:30,north,south\n").notes[0].zones == ("north", "south")
    assert faults("zones,offset\nnorth,south,08:30\n") == [
        "drum.csv: line 2: has 3 fields, and 2 columns are named"
    ]


@pytest.mark.parametrize("written", ["137.5", "137,5", " 137.5 mm ", "137.5°", "137.50"])
def test_a_position_in_any_unit(written):
    found = read(f"position;zones\n{written};north\n")
    assert found.measure == "position"
    assert found.notes[0].measured == Decimal("137.5")


@pytest.mark.parametrize(
    "line", ["08:30?,north", "08:30,north?", "08:30,north,?", "08:30,north,is it ?"]
)
def test_a_question_mark_anywhere_marks_what_is_uncertain(line):
    (note,) = read(f"clock,zones,remark\n{line}\n").notes
    assert (note.measured, note.zones, note.uncertain) == (HALF_PAST_EIGHT, ("north",), True)


def test_the_number_of_a_line_is_that_in_the_file():
    notes = read("# drum\n\noffset,zones\n\n00:10,north\n# tea\n00:20,south\n").notes
    assert [note.line for note in notes] == [5, 7]


def test_all_that_cannot_be_read_is_told_in_one_go():
    told = faults(
        "clock,zones\n8:30,nort\nhalf past,north\n24:00,north\n09:00,\n09:75,north\n10:00,south\n"
    )
    assert told == [
        'drum.csv: line 2 zones = "nort": there is no zone "nort"; did you mean "north"?',
        'drum.csv: line 3 clock = "half past": expected a time of day HH:MM, such as 08:30',
        'drum.csv: line 4 clock = "24:00": expected a time of day HH:MM, such as 08:30',
        'drum.csv: line 5 zones = "": names no zone; expected one or more, or all',
        'drum.csv: line 6 clock = "09:75": expected a time of day HH:MM, such as 08:30',
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "has no notes; expected a first line that names the columns"),
        ("# nothing\n\n", "has no notes"),
        ("offset,zones\n", "has no notes below the names of its columns"),
        ("08:30,north\n", "expected a first line that names the columns"),
        ("ofset,zones\n08:30,north\n", 'by "ofset" did you mean "offset"?'),
        ("offset,clock,zones\n08:30,08:30,north\n", "one of offset, clock and position"),
        ("offset,zonse\n08:30,north\n", 'by "zonse" did you mean "zones"?'),
        ("offset,zones\n" + "x" * 2_000_000, "is larger than 1 MiB"),
        ("offset,zones\n08:30," + "north " * 40_000, "cannot be read: field larger"),
    ],
)
def test_what_is_no_table_of_notes(text, words):
    (told,) = faults(text)
    assert words in told
