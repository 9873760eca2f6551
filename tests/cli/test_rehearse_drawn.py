"""`understudy rehearse --svg`: the dials of a rehearsal drawn."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest


@pytest.fixture
def described(understudy, small, tmp_path):
    """Rehearses, and gives what the drawing says to those who do not see it."""

    def told(*words: str) -> str:
        file = tmp_path / "dials.svg"
        said = understudy("rehearse", small, *words, "--svg", file)
        assert said.code == 0, said.err
        return ET.fromstring(file.read_text(encoding="utf-8"))[1].text or ""

    return told


def test_a_cut_is_drawn_with_its_catch_up(described):
    said = described(
        *("--from", "2026-11-25T08:20", "--until", "2026-11-25T09:00"),
        *("--cut", "2026-11-25T08:29:30+5m"),
    )
    assert "No power Wed 25 Nov 2026 08:29 for 5 min 20 s." in said
    match = re.search(r"08:30:00 to 08:3\d:\d\d: driven, (\d+) impulses, at the end 08:59", said)
    assert match is not None
    assert int(match[1]) >= 5
    assert said.endswith("right.")


def test_spring_is_driven_and_autumn_waits(described):
    spring = described("--from", "2027-03-14T01:00", "--until", "2027-03-14T04:00")
    assert "03:00:00 to 03:02:04: driven, 63 impulses" in spring
    autumn = described("--from", "2026-11-01T00:00", "--until", "2026-11-01T04:00")
    assert "01:00:00 to 01:59:00: waits 59 min" in autumn


def test_a_night_like_others_is_right_throughout(described):
    said = described("--from", "2026-11-24T22:00", "--until", "2026-11-25T06:00")
    assert said == "main: right throughout, at the end 05:59, right."


def test_what_is_printed_is_the_same_with_a_drawing_or_without(understudy, small, tmp_path):
    window = ("--from", "2026-11-25T08:00", "--until", "2026-11-25T09:00")
    for more in ((), ("--json",), ("--json", "--only", "rings")):
        plain = understudy("rehearse", small, *window, *more)
        beside = understudy("rehearse", small, *window, *more, "--svg", tmp_path / "dials.svg")
        assert beside.out == plain.out
