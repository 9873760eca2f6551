"""`understudy tape`: as a restorer gives it."""

from __future__ import annotations

import pytest
from houses import SMALL

from controller.building.file import read

# By `runtime` and `state_folder` no daemon is asked, and what is kept lies in a folder of the test.
pytestmark = pytest.mark.usefixtures("runtime", "state_folder")

TAPE = """
[tape]
length = "12h"
starts = "06:00"            # morning and evening
for = "4s"
[tape.holes]
south = ["02:30", "06:00"]
"""
NOTES = """position;zones;remark
12,5;south;
30;north + south;again?
30;south;
"""
GIVEN = "--turn", 360, "--first", "07:00", "--length", "12h", "--for", "4s"


@pytest.fixture
def notes(tmp_path):
    def written(text=NOTES):
        path = tmp_path / "drum.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return written


# ── read ─────────────────────────────────────────────────────────────────────────────────────────


def test_notes_become_the_tape_after_their_doubts_were_told(understudy, small, notes):
    said = understudy("tape", "read", notes(), small, *GIVEN, typed="y\n")
    assert said.code == 0
    assert said.out.splitlines()[:4] == [
        "3 notes, 1 turn begun, 2 doubts:",
        "  line 3  marked ? by whoever noted it; it is kept",
        "  line 4  south at 01:00 is noted in line 3 too: one hole",
        "",
    ]
    assert "The tape: 12h, its mark under the fingers at 06:35; a hole rings 4s" in said.out
    assert "daily 07:35 south: new, 4 s" in said.words
    text = small.read_text()
    assert text.startswith(SMALL)
    assert '[tape.holes]\nsouth = ["00:25", "01:00"]\nnorth = ["01:00"]\n' in text
    assert read(small).tape.length_ns == 12 * 3600 * 10**9


def test_whoever_says_no_keeps_the_file(understudy, small, notes):
    said = understudy("tape", "read", notes(), small, *GIVEN, typed="n\n")
    assert said.code == 1
    assert small.read_text() == SMALL


def test_what_cannot_be_read_is_told_in_one_go_and_nothing_is_asked(understudy, small, notes):
    path = notes("clock,zones\n25:00,north\n08:30,nroth\n")
    said = understudy("tape", "read", path, small, *GIVEN[2:])
    assert said.code == 2
    assert 'line 2 clock = "25:00": expected a time of day' in said.err
    assert 'line 3 zones = "nroth": there is no zone "nroth"; did you mean "north"?' in said.err
    assert said.out == ""


def test_what_the_file_has_of_a_tape_need_not_be_said_again(understudy, house, notes):
    path = house(SMALL + TAPE)
    said = understudy("tape", "read", notes("offset,zones\n02:30,south\n"), path, "--yes")
    assert said.code == 0
    assert path.read_text() == (SMALL + TAPE).replace('["02:30", "06:00"]', '["02:30"]')


@pytest.mark.parametrize(
    ("text", "left_out", "option", "words"),
    [
        (NOTES, "--turn", "--turn", "how many units of position one turn"),
        (NOTES, "--first", "--first", "expected --first or --starts"),
        (NOTES, "--length", "--length", "the file has no tape yet"),
        (NOTES, "--for", "--for", "the file has no tape yet"),
        ("offset,zones\n01:00,north\n", None, "--turn", "offset is what was noted"),
    ],
)
def test_what_must_be_known_beside_the_notes(
    understudy, small, notes, text, left_out, option, words
):
    pairs = zip(GIVEN[::2], GIVEN[1::2], strict=True)
    given = [word for pair in pairs if pair[0] != left_out for word in pair]
    said = understudy("tape", "read", notes(text), small, *given)
    assert said.code == 2
    assert option in said.err
    assert words in " ".join(said.err.replace("│", " ").split())


@pytest.mark.parametrize(
    ("option", "value"), [("--length", "11h"), ("--for", "4"), ("--first", "7"), ("--turn", "0")]
)
def test_values_that_make_no_sense(understudy, small, notes, option, value):
    given = [value if GIVEN[place - 1] == option else one for place, one in enumerate(GIVEN)]
    said = understudy("tape", "read", notes(), small, *given)
    assert said.code == 2
    assert option in said.err


def test_a_tape_that_no_zone_can_ring_is_refused_in_the_words_of_check(understudy, small, notes):
    given = [*GIVEN[:-1], "20s"]
    said = understudy("tape", "read", notes(), small, *given, "--yes")
    assert said.code == 2
    assert "expected no more than longest" in said.err
    assert small.read_text() == SMALL


# ── fold and unfold ──────────────────────────────────────────────────────────────────────────────


def test_a_week_that_no_tape_rings_is_told_ring_by_ring(understudy, small):
    said = understudy("tape", "fold", small, "--yes")
    assert said.code == 1
    assert "12:00 north Mon–Fri it has 2 strokes, and a hole gives one" in said.words
    assert "No tape of 24h rings what the week rings, for" in said.err
    assert small.read_text() == SMALL


def test_a_tape_is_unfolded_and_folded_back(understudy, house):
    text = SMALL.partition("[plans.regular]")[0] + TAPE
    path = house(text)
    said = understudy("tape", "unfold", path, "--yes")
    assert said.code == 0
    assert "daily tape-mon 4 rings of the tape" in said.words
    assert "Nothing would change in the coming 14 days." in said.out
    assert read(path).tape is None
    said = understudy("tape", "fold", path, "--starts", "06:00", "--length", "12h", typed="y\n")
    assert said.code == 0
    assert "south 2 holes 02:30, 06:00" in said.words
    assert "Nothing would change in the coming 14 days." in said.out
    assert not read(path).week
    assert dict(read(path).tape.holes) == {"south": (9_000_000_000_000, 21_600_000_000_000)}


def test_quiet_rows_and_texts_are_told_before_it_is_asked(understudy, house):
    text = SMALL.replace('  { at = "12:00", zones = ["north", "south"], strokes = [1, 0.5, 1]', "#")
    path = house(text)
    said = understudy("tape", "fold", path, typed="n\n")
    assert said.code == 1
    assert "mon night, tue night, wed night, thu night, fri night" in said.words
    assert 'No longer told when they ring: "First class".' in said.words
    assert path.read_text() == text


def test_where_there_is_nothing_to_fold_or_unfold(understudy, house):
    path = house(SMALL.partition("[week]")[0])
    said = understudy("tape", "fold", path)
    assert (said.code, "nothing to fold" in said.err) == (1, True)
    said = understudy("tape", "unfold", path)
    assert (said.code, "nothing to unfold" in said.err) == (1, True)
