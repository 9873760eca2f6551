"""`understudy edit week` and `edit quiet`: shown, changed, and refused in words."""

from __future__ import annotations

import pytest
import tomli


@pytest.fixture
def edit(understudy, small, runtime, state_folder):
    def given(what: str, *words: object):
        return understudy("edit", what, small, *words, typed="y\n")

    return given


def table(path, name: str) -> dict:
    return tomli.loads(path.read_text())[name]


def test_the_week_is_shown(edit, small):
    before = small.read_bytes()
    said = edit("week")
    assert said.code == 0
    assert "Mon regular" in said.words
    assert "Sun no plan" in said.words
    assert small.read_bytes() == before


def test_weekdays_get_other_plans_in_one_edit(edit, small):
    said = edit("week", "sun=regular", "sat=none", "--yes")
    assert said.code == 0
    assert "Sat regular → none Sun no plan → regular" in said.words
    assert table(small, "week")["sat"] == "none"
    assert table(small, "week")["sun"] == "regular"


def test_what_the_week_says_already_is_not_written(edit, small, state_folder):
    said = edit("week", "mon=regular")
    assert said.code == 0
    assert "Nothing is to be done" in said.out
    assert list(state_folder.iterdir()) == []


@pytest.mark.parametrize(
    ("day", "says"),
    [
        ("mon", "expected DAY=PLAN"),
        ("mon=reglar", 'did you mean "regular"?'),
        ("mon=usual", 'there is no plan "usual"'),
        ("monday=regular", 'did you mean "mon"?'),
    ],
)
def test_a_day_or_plan_that_is_not_there_is_refused(edit, day, says):
    said = edit("week", day)
    assert said.code == 2
    assert says in said.err


def test_quiet_rows_are_shown(edit):
    assert "north sat, sun south never quiet" in edit("quiet").words
    assert edit("quiet", "south").words == "south never quiet"


def test_a_zone_gets_another_row_or_none(edit, small):
    said = edit("quiet", "north", "sat", "fri night")
    assert said.code == 0
    assert "north sat, sun → sat, fri night" in said.words
    assert table(small, "quiet") == {"north": ["sat", "fri night"]}
    assert edit("quiet", "south", "sun").code == 0
    assert edit("quiet", "north", "--off").code == 0
    assert table(small, "quiet") == {"south": ["sun"]}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["nort", "sat"], 'did you mean "north"?'),
        (["north", "fri nigth"], "a list of weekdays"),
        (["north", "sat", "--off"], "expected one of the two"),
    ],
)
def test_a_row_that_cannot_be_is_refused(edit, words, says):
    said = edit("quiet", *words)
    assert said.code == 2
    assert says in " ".join(said.err.split())
