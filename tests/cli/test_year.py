"""`understudy year`: a year in the terminal, or on a sheet."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from freezegun import freeze_time


def test_a_calendar_year_is_drawn_week_by_week_within_80_columns(understudy, small):
    said = understudy("year", small, "--of", "2026")
    assert said.code == 0
    lines = said.out.splitlines()
    assert lines[:2] == ["Elm House", "2026, America/Halifax"]
    assert max(map(len, lines)) <= 80
    assert any("Sat 19–20 Winter break" in line for line in lines)
    assert "R regular (302), – none (63)" in said.words


def test_a_school_year_begins_with_its_first_month(understudy, small):
    said = understudy("year", small, "--of", "2026-09")
    assert said.out.splitlines()[1] == "September 2026 to August 2027, America/Halifax"


def test_without_a_year_it_is_the_buildings_own_this_year(understudy, small):
    with freeze_time("2027-01-01T02:00:00Z"):  # still 2026 in Halifax
        assert understudy("year", small).out.splitlines()[1].startswith("2026,")


def test_a_year_goes_onto_a_sheet(understudy, small, tmp_path):
    file = tmp_path / "year.svg"
    said = understudy("year", small, "--of", "2026", "--svg", file)
    assert (said.code, said.out) == (0, f"Drawn: {file}\n")
    assert ET.fromstring(file.read_text(encoding="utf-8")).tag.endswith("svg")


@pytest.mark.parametrize("written", ["26", "2026-13", "2026-00", "1970", "2199", "next"])
def test_what_is_no_year_is_refused_with_what_was_expected(understudy, small, written):
    said = understudy("year", small, "--of", written)
    assert said.code == 2
    assert "expected a year" in said.err
