"""`understudy new`: two files that pass `check`, and nothing overwritten."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from controller.building.file import building_of, read
from controller.building.sheets import Source
from controller.editing.first_file import First, Line, Zone, first_files, free_pins


def test_without_questions_all_is_as_usual_and_passes_check(understudy, tmp_path):
    folder = tmp_path / "elm"
    said = understudy("new", folder, "--yes", "--timezone", "America/Halifax")
    assert said.code == 0
    assert f"understudy check {folder}" in said.words
    assert understudy("check", folder).code == 0
    building = read(folder)
    assert building.civil.key == "America/Halifax"
    assert list(building.zones) == ["north"]
    assert building.lines["main"].drive == "alternating"
    assert building.week[1] == "regular"


def test_options_say_it_all(understudy, tmp_path):
    folder = tmp_path / "elm"
    words = ["--name", 'Elm "House"', "--timezone", "Europe/Oslo", "--active", "low"]
    words += ["--zone", "north=5", "--zone", "gong=6", "--line", "main=4,22", "--line", "yard=13"]
    assert understudy("new", folder, "--yes", *words, "--face", "24h").code == 0
    building = read(folder)
    assert building.name == 'Elm "House"'
    assert {name: zone.relay for name, zone in building.zones.items()} == {"north": 5, "gong": 6}
    assert {zone.active for zone in building.zones.values()} == {"low"}
    assert building.lines["main"].relays == (4, 22)
    assert building.lines["yard"].drive == "single"
    assert building.lines["yard"].face_ns == 24 * 3600 * 10**9


def test_questions_say_it_too_and_a_bad_answer_is_asked_again(understudy, tmp_path):
    folder = tmp_path / "elm"
    answers = ["Elm House", "Atlantis/Elm", "America/Halifax", "low"]
    answers += ["2", "North", "north", "5", "south", "5", "6"]
    answers += ["1", "", "", "22 23", "24h"]
    said = understudy("new", folder, typed="\n".join(answers) + "\n")
    assert said.code == 0
    assert "'Atlantis/Elm' is no IANA time zone" in said.words
    assert "'North': expected small letters" in said.words
    assert "GPIO5 is taken already" in said.words
    building = read(folder)
    assert {name: zone.relay for name, zone in building.zones.items()} == {"north": 5, "south": 6}
    assert building.lines["main"].relays == (22, 23)


def test_nobody_who_answers_is_no_file(understudy, tmp_path):
    folder = tmp_path / "elm"
    assert understudy("new", folder, typed="Elm House\n").code == 1
    assert not folder.exists()


def test_nothing_is_overwritten(understudy, tmp_path):
    (tmp_path / "20-timetable.toml").write_text("# mine\n")
    said = understudy("new", tmp_path, "--yes")
    assert said.code == 1
    assert "Name another folder" in said.err
    assert [file.name for file in tmp_path.iterdir()] == ["20-timetable.toml"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--zone", "north"], "NAME=PIN"),
        (["--zone", "north=99"], "relay = 99"),
        (["--zone", "north=17", "--zone", "south=17"], "17"),
        (["--line", "main=1,2,3"], "NAME=PIN,PIN"),
        (["--active", "up"], "high or low"),
        (["--timezone", "Mars"], "IANA"),
    ],
)
def test_a_bad_option_is_named_and_nothing_written(understudy, tmp_path, words, said):
    folder = tmp_path / "elm"
    told = understudy("new", folder, "--yes", *words)
    assert told.code == 2
    assert said in told.err
    assert not folder.exists()


names = st.lists(
    st.from_regex(r"[a-z0-9][a-z0-9-]{0,20}", fullmatch=True).filter(
        lambda name: name not in ("all", "none", "usual")
    ),
    unique=True,
    max_size=8,
)


@given(
    st.text(max_size=40),
    names,
    st.lists(st.integers(1, 2), max_size=3),
    st.sampled_from(["high", "low"]),
    st.sampled_from(["12h", "24h"]),
)
def test_whatever_is_told_the_files_are_sound_and_say_it(name, zones, lines, active, face):
    assume(zones or lines)  # a building has one or the other
    first = First(name, "UTC", (), (), active, face)
    for zone in zones:
        pin = free_pins(active, first.pins)[0]
        first = first._replace(zones=(*first.zones, Zone(zone, pin)))
    for number, relays in enumerate(lines):
        pins = tuple(free_pins(active, first.pins)[:relays])
        first = first._replace(lines=(*first.lines, Line(f"line-{number}", pins)))
    texts = first_files(first)
    building = building_of("", [Source(n, text.encode()) for n, text in texts.items()])
    assert building.name == "".join(letter for letter in name if letter.isprintable())
    assert [(n, zone.relay) for n, zone in building.zones.items()] == list(first.zones)
    assert [(n, line.relays) for n, line in building.lines.items()] == list(first.lines)
    assert all(
        len(line) <= 100 or "name =" in line for t in texts.values() for line in t.split("\n")
    )
