"""`understudy wiring`: the installer's sheet as files."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from controller.building.file import read
from controller.electrics.terminal_list import terminal_list

SCHOOL = Path(__file__).parents[2] / "config" / "marrow-lane"
MONDAY = ("--at", "2026-11-23")
BARE = '[building]\ntimezone = "Europe/Oslo"\n[zones.north]\nrelay = 17\n'


@pytest.fixture(scope="module")
def school(tmp_path_factory):
    """The demo's sheet, written once: the folder, and what was said."""
    from typer.testing import CliRunner

    from controller.cli.app import app

    out = tmp_path_factory.mktemp("school") / "sheet"
    done = CliRunner().invoke(app, ["wiring", str(SCHOOL), "--out", str(out), *MONDAY])
    assert done.exit_code == 0
    return out, done.stdout


def plain(page):
    """A page's text, without its tags."""
    return " ".join(re.sub(r"<[^>]+>", " ", page.replace("\u00a0", " ")).split())


def page_of(out):
    return (out / "wiring.html").read_text(encoding="utf-8")


def test_one_page_one_list_and_every_drawing_are_written(school):
    out, said = school
    drawn = {file.name for file in out.glob("*.svg")}
    circuits = ("zones.north", "zones.yard", "lines.main", "lines.workshop", "returns.attic")
    for name in ("supply", "controller", *circuits, "panel.active-low", "supply.sense"):
        assert f"drawing-{name}.svg" in drawn
    assert {file.name for file in out.iterdir()} - drawn == {"wiring.html", "terminals.csv"}
    assert f"Written in {out}: wiring.html to print, terminals.csv, and {len(drawn)} drawings" in (
        " ".join(said.split())
    )


def test_warnings_come_first_on_the_page_and_are_said(school):
    out, said = school
    page = plain(page_of(out))
    found = "zones.yard : 2 bells, 1.2 A, at the end of 140 m"
    order = ("Before anything else", "life-safety", found, "To be measured", "Terminal list")
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    assert "zones.yard: 2 bells, 1.2 A" in said
    assert "licensed electrician" in " ".join(said.split())


def test_the_worst_second_of_the_week_is_on_the_page(school):
    # tests/electrics/test_demo_electrics.py counts it plainly over the rehearsal record
    page = plain(page_of(school[0]))
    assert "as the engine plays it 2.45 A, first Mon 2026-11-23 10:10:05" in page


def test_the_list_has_every_wire_once(school):
    with (school[0] / "terminals.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    wires = terminal_list(read(SCHOOL))
    assert [int(row["no."]) for row in rows] == list(range(1, len(wires) + 1))
    assert len({(row["from"], row["to"]) for row in rows}) == len(wires)
    (out,) = [row for row in rows if row["to"] == "P zones.north:+"]
    assert out == {
        "no.": out["no."],
        "belongs to": "zones.north",
        "from": "X zones.north:out",
        "to": "P zones.north:+",
        "wire": "1.5 mm², 50 m",
        "fuse": "F zones.north, 2 A",
        "colour": "brown",
        "carries": "24 V, 1.5 A",
    }
    (relay,) = [row for row in rows if row["to"] == "K zones.north:IN"]
    assert relay["from"] == "Pi:11 (GPIO 17)"


def test_the_page_has_the_list_too_and_the_header(school):
    page = plain(page_of(school[0]))
    for wire in terminal_list(read(SCHOOL)):
        assert str(wire.end).partition(" (")[0] in page
    assert "K zones.north:IN GPIO 17 11 12 GPIO 18 K zones.south:IN" in page


def test_the_pages_drawings_stand_in_it_and_nothing_comes_from_outside(school):
    page = page_of(school[0])
    assert page.count("<svg ") == len(list(school[0].glob("*.svg")))
    assert not re.search(r"\b(id|src|href)=", page)
    assert "<script" not in page


def test_each_drawing_is_a_whole_svg(school):
    for file in school[0].glob("*.svg"):
        assert ET.fromstring(file.read_text(encoding="utf-8")).tag.endswith("svg")


def test_what_the_file_does_not_say_is_to_be_measured(understudy, house, tmp_path):
    said = understudy("wiring", house(BARE), "--out", tmp_path / "sheet", *MONDAY)
    assert said.code == 0
    page = plain(page_of(tmp_path / "sheet"))
    for what in ("number of bells bells", "current of each bell, A amps_each"):
        assert f"zones.north {what}" in page
    assert "zones.north length of its run, one way, m run_metres" in page
    assert "supply what it can give in all, A amps" in page
    assert "to be measured: what it can give" in page
    assert 'class="blank"' in page_of(tmp_path / "sheet")


def test_what_is_taken_as_usual_is_said_to_be_assumed(understudy, house, tmp_path):
    understudy("wiring", house(BARE), "--out", tmp_path / "sheet", *MONDAY)
    page = plain(page_of(tmp_path / "sheet"))
    assert "the supply gives 24 V all the time" in page
    assert "zones north: trembler bells (kind)" in page
    assert re.search(r"F V5 [0-9.]+ A assumed", page)


def test_again_it_writes_the_same_over_its_own(understudy, house, tmp_path):
    out = tmp_path / "sheet"
    texts = []
    for _ in range(2):
        assert understudy("wiring", house(BARE), "--out", out, *MONDAY).code == 0
        texts.append({file.name: file.read_bytes() for file in out.iterdir()})
    assert texts[0] == texts[1]


@pytest.mark.parametrize("name", ["wiring.html", "terminals.csv", "drawing-zones.north.svg"])
def test_a_file_that_it_did_not_write_stays_and_nothing_is_written(
    understudy, house, tmp_path, name
):
    out = tmp_path / "mine"
    out.mkdir()
    (out / name).write_text("mine")
    said = understudy("wiring", house(BARE), "--out", out, *MONDAY)
    assert said.code == 1
    assert f"{out / name} is there and was not made by this command" in said.err
    assert [(file.name, file.read_text()) for file in out.iterdir()] == [(name, "mine")]


def test_a_drawing_of_what_is_no_longer_in_the_file_is_named(understudy, house, tmp_path):
    out = tmp_path / "sheet"
    understudy("wiring", house(BARE), "--out", out, *MONDAY)
    said = understudy("wiring", house(BARE.replace("north", "south")), "--out", out, *MONDAY)
    assert "no longer of this file: drawing-zones.north.svg" in said.words


def test_a_bad_file_ends_with_2_and_writes_nothing(understudy, house, tmp_path):
    said = understudy("wiring", house(BARE.replace("17", "99")), "--out", tmp_path / "sheet")
    assert said.code == 2
    assert "[zones.north] relay" in said.err
    assert not (tmp_path / "sheet").exists()


def test_a_folder_that_is_a_file_is_said_in_words(understudy, house, tmp_path):
    (tmp_path / "sheet").write_text("")
    said = understudy("wiring", house(BARE), "--out", tmp_path / "sheet", *MONDAY)
    assert said.code == 1
    assert str(tmp_path / "sheet") in said.err


def test_words_of_the_file_are_words_on_the_page_and_in_the_list(understudy, house, tmp_path):
    text = BARE + 'title = "<b>\'North\' & co</b>"\ncolours = ["=1+1", "blue"]\n'
    understudy("wiring", house(text), "--out", tmp_path / "sheet", *MONDAY)
    assert "<b>'North'" not in page_of(tmp_path / "sheet")
    listed = (tmp_path / "sheet" / "terminals.csv").read_text(encoding="utf-8")
    assert ",'=1+1," in listed  # a spreadsheet takes it as text
