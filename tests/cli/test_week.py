"""`understudy week`: a week in the terminal, or on a sheet."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from freezegun import freeze_time
from houses import BROKEN


def test_the_week_of_a_date_is_drawn_within_80_columns_and_without_colour_in_a_pipe(
    understudy, small
):
    said = understudy("week", small, "--of", "2026-11-25")
    assert said.code == 0
    lines = said.out.splitlines()
    assert lines[:2] == [
        "Elm House",
        "Week 48 of 2026, 23 to 29 November 2026, America/Halifax",
    ]
    assert "\x1b" not in said.out
    assert max(map(len, lines)) <= 80
    assert sum(line.startswith(("north ", "south ")) for line in lines) == 2
    assert "Drawn from the file: what a running daemon was ordered" in said.words


@pytest.mark.parametrize("width", [40, 100])
def test_it_is_as_wide_as_the_terminal(understudy, small, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    lines = understudy("week", small, "--of", "2026-11-25").out.splitlines()
    assert max(map(len, lines)) <= width


def test_where_there_is_colour_it_is_used_and_where_it_is_unwanted_not(
    understudy, small, monkeypatch
):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    coloured = understudy("week", small, "--of", "2026-12-21").out
    assert "\x1b[1;33m" in coloured
    monkeypatch.setenv("NO_COLOR", "1")
    plain = understudy("week", small, "--of", "2026-12-21").out
    assert "33m" not in plain


def test_a_plain_console_is_given_ascii(understudy, small, monkeypatch):
    monkeypatch.setenv("TERM", "linux")
    said = understudy("week", small, "--of", "2026-11-25")
    assert said.out.isascii()
    assert "Sun 29 -  none" in said.out


def test_without_a_date_it_is_the_buildings_own_today(understudy, small):
    with freeze_time("2026-11-30T02:00:00Z"):  # still Sunday, 22:00, in Halifax
        assert "Week 48 of 2026" in understudy("week", small).out


def test_a_sheet_is_written_to_a_file_or_to_the_standard_output(understudy, small, tmp_path):
    file = tmp_path / "week.svg"
    said = understudy("week", small, "--of", "2026-11-25", "--svg", file)
    assert (said.code, said.out) == (0, f"Drawn: {file}\n")
    assert ET.fromstring(file.read_text(encoding="utf-8")).tag.endswith("svg")
    assert understudy("week", small, "--of", "2026-11-25", "--svg", "-").out == file.read_text()


def test_what_cannot_be_drawn_is_said_in_words(understudy, small, house, tmp_path):
    nowhere = understudy("week", small, "--svg", tmp_path / "no" / "week.svg")
    assert nowhere.code == 1
    assert "week.svg" in nowhere.err
    assert understudy("week", small, "--of", "soon").code == 2
    assert understudy("week", house(BROKEN)).code == 2
