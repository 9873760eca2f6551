"""The drawings of the wiring sheet: every terminal in them, whatever the house."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import wired_houses
from hypothesis import HealthCheck, given, settings

from controller.building.file import read
from controller.building.terminals import SUPPLY_INPUT, shown
from controller.cli.wiring_drawings import drawings
from controller.cli.wiring_values import value
from controller.electrics.fuse_list import fuse_list
from controller.electrics.sheet import circuit_rows
from controller.electrics.terminal_list import terminal_list

ROOT = Path(__file__).parents[2]
DEMOS = {name: read(ROOT / "config" / name) for name in ("marrow-lane", "foundry-hall.toml")}
IN_THE_GUIDE = ("supply", "zones.north", "lines.main", "panel.active-low")
SVG = "{http://www.w3.org/2000/svg}"
quickly = settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow])


def drawn(building):
    """Name → its root."""
    fuses = {one.name: value(one.amps, "A").words for one in fuse_list(building)}
    made = drawings(building, terminal_list(building), circuit_rows(building), fuses)
    return {one.name: ET.fromstring(one.svg) for one in made}


def words(root):
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def drawing_of(building, wire):
    """The drawing that a wire is in; None for buttons that are wired like the one drawn."""
    if SUPPLY_INPUT in (wire.start.part, wire.end.part):
        return "supply.sense"
    if wire.group == "feed":
        return "supply"
    if wire.group.startswith("panel."):
        level = building.panel[wire.group.removeprefix("panel.")].active
        first = next(name for name, one in building.panel.items() if one.active == level)
        return f"panel.active-{level}" if wire.group == f"panel.{first}" else None
    if wire.group == "panel":
        return f"panel.active-{next(iter(building.panel.values())).active}"
    return wire.group


def stands(end, said):
    """Whether a terminal's whole name is there, or its part's name and its mark."""
    if any(shown(end) in text for text in said):
        return True
    return any(end.part in text for text in said) and any(
        end.mark in (text, text.partition(" (")[0]) for text in said
    )


@quickly
@given(wired_houses.house_texts())
def test_every_terminal_of_every_wire_is_in_its_drawing(text):
    building = wired_houses.house(text)
    made = drawn(building)
    for wire in terminal_list(building):
        name = drawing_of(building, wire)
        if name is not None:
            for end in (wire.start, wire.end):
                assert stands(end, words(made[name])), (name, str(end))


@quickly
@given(wired_houses.house_texts())
def test_a_drawing_refers_to_nothing_and_brings_no_style(text):
    """So that any number of them stand in one page."""
    for root in drawn(wired_houses.house(text)).values():
        for element in root.iter():
            assert not {"id", "style", "class", "clip-path", "href"} & set(element.attrib)
            assert not any("url(" in one for one in element.attrib.values())


@pytest.mark.parametrize("name", DEMOS)
def test_a_demos_words_stand_clear_of_each_other(name):
    for drawing, root in drawn(DEMOS[name]).items():
        for one, other in combinations(root.iter(f"{SVG}text"), 2):
            assert not overlap(box(one), box(other)), (drawing, one.text, other.text)


def box(text):
    """Left, top, right, bottom: a sans-serif letter is some half of its size wide."""
    size, x, y = (float(text.get(key)) for key in ("font-size", "x", "y"))
    wide = 0.5 * size * len(text.text)
    left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[text.get("text-anchor")]
    return left, y - 0.72 * size, left + wide, y


def overlap(one, other):
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def test_the_same_house_is_drawn_the_same_every_time():
    first, second = (
        {name: ET.tostring(root) for name, root in drawn(DEMOS["marrow-lane"]).items()}
        for _ in range(2)
    )
    assert first == second


def test_a_title_is_taken_as_it_is():
    text = (
        '[building]\ntimezone = "Europe/Oslo"\n[zones.north]\nrelay = 17\ntitle = "A & <b> $x_1$"'
    )
    assert "zones.north, A & <b> $x_1$" in words(drawn(wired_houses.house(text))["zones.north"])


def test_no_text_is_a_path():
    for root in drawn(DEMOS["marrow-lane"]).values():
        assert root.get("font-family") == "sans-serif"
        assert len(words(root)) > 5


@pytest.mark.parametrize("name", IN_THE_GUIDE)
def test_the_guides_drawings_are_those_of_the_demo(name):
    kept = ROOT / "wiring" / f"marrow-lane-{name}.svg"
    again = "understudy wiring config/marrow-lane --out DIR, and copy drawing-*.svg"
    assert words(ET.fromstring(kept.read_text(encoding="utf-8"))) == words(
        drawn(DEMOS["marrow-lane"])[name]
    ), again
