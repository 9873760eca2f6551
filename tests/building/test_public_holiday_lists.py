"""Which countries need a subdivision, by the holidays library's data; and that it is asked late."""

from __future__ import annotations

import subprocess
import sys

import pytest
from building_texts import LEAST

from controller.building.countries import country, country_codes, needs_subdivision


@pytest.mark.parametrize("code", ["GB", "CA", "AU", "DE", "CH", "ES"])
def test_a_country_whose_own_list_lacks_days_that_most_of_it_keeps_needs_a_subdivision(code):
    # GB drops Easter Monday and the August day: found with holidays 0.109.
    assert needs_subdivision(code)


@pytest.mark.parametrize("code", ["US", "FR", "IT", "NO", "DK", "JP", "IE", "NZ"])
def test_a_country_whose_own_list_most_of_it_shares_needs_none(code):
    assert not needs_subdivision(code)


@pytest.mark.parametrize("subdivision", ["ENG", "WLS", "SCT", "NIR"])
def test_the_four_nations_are_known(building_of, subdivision):
    text = LEAST + f'[holidays]\ncountry = "GB"\nsubdivision = "{subdivision}"\n'
    assert building_of(text).holidays.subdivision == subdivision


def test_countries_go_by_their_two_capital_letters():
    codes = country_codes()
    assert {"CA", "GB", "US", "JP"} <= set(codes)
    assert all(len(code) == 2 and code.isupper() for code in codes)
    assert [country(one) for one in ("USA", "us", "", "Canada")] == [None] * 4


@pytest.mark.parametrize(("more", "imported"), [("", 0), ('[holidays]\ncountry = "US"\n', 1)])
def test_the_library_is_imported_only_when_a_file_has_public_holidays(tmp_path, more, imported):
    path = tmp_path / "school.toml"
    path.write_text(LEAST + more)
    code = (
        "import sys; from pathlib import Path; from controller.building.file import read; "
        "read(Path(sys.argv[1])); sys.exit('holidays' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert ran.returncode == imported
