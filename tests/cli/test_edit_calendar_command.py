"""`understudy edit calendar`: listed, added to, taken from, and refused in words."""

from __future__ import annotations

import pytest
import tomli
from freezegun import freeze_time


@pytest.fixture
def edit(understudy, small, runtime, state_folder):
    """On Wednesday, 25 November 2026."""

    def given(*words: object):
        with freeze_time("2026-11-25 12:00:00"):
            return understudy("edit", "calendar", small, *words, typed="y\n")

    return given


def entries(path) -> list[dict]:
    return tomli.loads(path.read_text()).get("calendar", [])


BREAK = {"from": "2026-12-19", "until": "2027-01-03", "plan": "none", "says": "Winter break"}


def test_what_is_to_come_is_listed_and_what_is_over_is_counted(edit, small):
    old = '[[calendar]]\non = "2026-01-05"\nplan = "none"\n'
    small.write_text(small.read_text() + old)
    said = edit()
    assert said.code == 0
    assert said.words == "2026-12-19 to 2027-01-03 none Winter break and 1 of the past"


def test_an_entry_for_one_date_is_added(edit, small):
    said = edit("add", "--on", "2026-12-01", "--plan", "none", "--says", "Snow")
    assert said.code == 0
    assert "new Tue 2026-12-01 none Snow" in said.words
    assert "Tue 1 Dec: no ring is left in any zone" in said.words
    assert entries(small) == [BREAK, {"on": "2026-12-01", "plan": "none", "says": "Snow"}]


def test_an_entry_for_the_same_dates_takes_the_place_of_the_old_one(edit, small):
    dates = ("--from", "2026-12-19", "--until", "2027-01-03")
    said = edit("add", *dates, "--plan", "regular", "--lift-quiet")
    assert "instead of 2026-12-19 to 2027-01-03 none Winter break" in said.words
    assert entries(small) == [
        {"from": "2026-12-19", "until": "2027-01-03", "plan": "regular", "lift_quiet": True}
    ]


def test_a_range_over_single_dates_is_told_which_of_them_go_before_it(edit):
    edit("add", "--on", "2026-12-02", "--plan", "usual", "--says", "Make-up day")
    said = edit("add", "--from", "2026-12-01", "--until", "2026-12-04", "--plan", "none")
    assert "go before it: Wed 2026-12-02 usual Make-up day." in said.words


def test_dates_that_are_over_are_told(edit):
    said = edit("add", "--on", "2026-01-05", "--plan", "none")
    assert "These dates are over already." in said.out


def test_an_entry_is_removed_by_its_dates(edit, small):
    said = edit("remove", "--from", "2026-12-19")
    assert said.code == 0
    assert "gone 2026-12-19 to 2027-01-03 none Winter break" in said.words
    assert entries(small) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["add", "--plan", "none"], "expected one of the two"),
        (["add", "--on", "2026-12-01", "--until", "2026-12-02", "--plan", "none"], "of the two"),
        (["add", "--on", "2026-02-30", "--plan", "none"], '"2026-02-30": expected a date'),
        (["add", "--on", "2026-12-01"], "is required to add"),
        (["add", "--on", "2026-12-01", "--plan", "reglar"], 'did you mean "regular"?'),
        (
            ["add", "--from", "2026-12-02", "--until", "2026-12-01", "--plan", "none"],
            "is before --from",
        ),
        (["remove"], "expected one of the two"),
        (["remove", "--on", "2026-12-25"], "it has 2026-12-19 to 2027-01-03 none Winter break"),
        (["remove", "--on", "2026-12-01"], "nor any other for that date"),
        (["remove", "--from", "2026-12-19", "--plan", "regular"], "has no such entry"),
        (["remove", "--from", "2026-12-19", "--says", "x"], "belongs to add"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_done(edit, small, words, says):
    before = small.read_bytes()
    said = edit(*words)
    assert said.code == 2
    assert says in " ".join(said.err.split())
    assert small.read_bytes() == before
