"""`understudy edit plan`: shown, changed, and refused in words."""

from __future__ import annotations

import pytest
import tomli


@pytest.fixture
def edit(understudy, small, runtime, state_folder):
    """Changes the plan `regular` of the small house, where no daemon runs it."""

    def given(*words: object, name: str = "regular", typed: str = "y\n"):
        return understudy("edit", "plan", small, name, *words, typed=typed)

    return given


def rings(path, plan: str = "regular") -> list[tuple[str, list[str]]]:
    found = tomli.loads(path.read_text())["plans"][plan]["rings"]
    return [(ring["at"], ring["zones"]) for ring in found]


LUNCH = ("12:00", ["north", "south"])
CLASS = ("08:30", ["north"])


def test_without_a_change_the_plan_is_shown(edit, small):
    before = small.read_bytes()
    said = edit()
    assert said.code == 0
    assert "regular, Mon, Tue, Wed, Thu, Fri, Sat" in said.out
    assert "08:30 north 5s First class" in said.words
    assert "12:00 north, south 2 strokes Lunch" in said.words
    assert small.read_bytes() == before


def test_a_ring_is_added_shown_asked_about_and_written(edit, small):
    said = edit("--add", "10:15", "--zones", "south", "--for", "2s", "--says", "Break")
    assert said.code == 0
    assert "new 10:15 south 2s Break" in said.words
    assert "10:15 south: new, 2 s" in said.words
    assert said.out.index("south: new") < said.out.index("Write house.toml?")
    assert rings(small) == [CLASS, ("10:15", ["south"]), LUNCH]


def test_what_nobody_wants_is_not_written(edit, small):
    before = small.read_bytes()
    said = edit("--remove", "08:30", typed="n\n")
    assert said.code == 1
    assert "Not written" in said.out
    assert small.read_bytes() == before


def test_several_changes_are_one_edit_and_one_undo(edit, understudy, small):
    before = small.read_bytes()
    strokes = ("--zones", "all", "--strokes", "1,0.5,1")
    said = edit("--add", "09:00", "--add", "10:00", *strokes, "--remove", "08:30",
                "--move", "12:00=12:05", "--yes")  # fmt: skip
    assert said.code == 0
    assert rings(small) == [("09:00", ["*"]), ("10:00", ["*"]), ("12:05", ["north", "south"])]
    assert understudy("edit", "undo", small, "--yes").code == 0
    assert small.read_bytes() == before


def test_in_one_zone_alone_a_ring_is_removed_or_moved(edit, small):
    assert edit("--remove", "12:00", "--zones", "south", "--yes").code == 0
    assert rings(small) == [CLASS, ("12:00", ["north"])]
    assert edit("--move", "12:00=07:00", "--zones", "north", "--yes").code == 0
    assert rings(small) == [("07:00", ["north"]), CLASS]


def test_a_ring_moved_in_one_of_its_zones_becomes_two(edit, small):
    assert edit("--move", "12:00=12:10", "--zones", "south", "--yes").code == 0
    assert rings(small) == [CLASS, ("12:00", ["north"]), ("12:10", ["south"])]


def test_a_plan_is_made_copied_and_deleted(edit, small):
    ring = ("--add", "09:00", "--zones", "north", "--for", "2s")
    assert edit("--new", *ring, "--yes", name="exams").code == 0
    assert rings(small, "exams") == [("09:00", ["north"])]
    assert edit("--copy-of", "regular", "--remove", "12:00", "--yes", name="snow").code == 0
    assert rings(small, "snow") == [CLASS]
    assert edit("--delete", "--yes", name="snow").code == 0
    assert set(tomli.loads(small.read_text())["plans"]) == {"regular", "exams"}


def test_a_plan_that_the_week_has_is_not_deleted(edit, small):
    before = small.read_bytes()
    said = edit("--delete", "--yes")
    assert said.code == 2
    assert '[week] mon = "regular": there is no plan "regular"' in said.err
    assert small.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--remove", "12:05"], "regular has no ring at 12:05; it rings at 08:30, 12:00"),
        (["--remove", "08:30", "--zones", "south"], "no ring at 08:30 in south; it rings at 12:00"),
        (["--remove", "8:30"], '"8:30": expected a time of day'),
        (["--move", "08:30"], "expected HH:MM=HH:MM"),
        (["--move", "08:30=25:00"], '"25:00": expected a time of day'),
        (["--remove", "08:30", "--move", "08:30=09:00"], "named twice"),
        (["--add", "10:00", "--zones", "nort", "--for", "2s"], 'did you mean "north"?'),
        (["--add", "10:00", "--for", "2s"], "is required; expected a list of zones"),
        (["--add", "10:00", "--zones", "north"], "expected one of the two"),
        (["--add", "10:00", "--zones", "north", "--for", "2"], '"2": expected a duration'),
        (["--add", "99:00", "--zones", "north", "--for", "2s"], '"99:00": expected a time of day'),
        (["--add", "10:00", "--zones", "north", "--strokes", "1,x"], "a list of seconds"),
        (["--remove", "08:30", "--for", "2s"], "belongs to --add"),
        (["--delete", "--remove", "08:30"], "expected alone"),
        (["--new"], "there is a plan regular already"),
        (["--new", "--copy-of", "regular"], "expected one of the two"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_done(edit, small, words, says):
    before = small.read_bytes()
    said = edit(*words)
    assert said.code == 2
    assert says in " ".join(said.err.replace("│", " ").split())
    assert small.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "words", "says"),
    [
        ("reglar", [], 'did you mean "regular"?'),
        ("none", ["--new"], "expected small letters, digits and -"),
        ("Snow", ["--new"], "expected small letters, digits and -"),
        ("snow", ["--copy-of", "reglar"], 'did you mean "regular"?'),
    ],
)
def test_a_plan_by_another_name_is_refused(edit, name, words, says):
    said = edit(*words, name=name)
    assert said.code == 2
    assert says in said.err


def test_a_ring_that_the_zone_cannot_take_is_refused_in_the_words_of_check(edit, small):
    before = small.read_bytes()
    said = edit("--add", "10:00", "--zones", "north", "--for", "90s", "--yes")
    assert said.code == 2
    assert "house.toml: [plans.regular] ring 2 (10:00)" in said.err
    assert small.read_bytes() == before
