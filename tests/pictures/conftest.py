"""Buildings to be drawn, each read from its own file as a keeper would write it."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.building.file import read
from controller.building.model import Building

# The invented timetables of the timetable's own tests are drawn here.
sys.path.append(str(Path(__file__).parents[1] / "timetable"))

BuildingOf = Callable[[str], Building]


@pytest.fixture(scope="session")
def building_of(tmp_path_factory) -> BuildingOf:
    """Reads a building from the text of its file."""
    folder = tmp_path_factory.mktemp("drawn")
    numbers = itertools.count()

    def made(text: str) -> Building:
        path = folder / f"{next(numbers)}.toml"
        path.write_text(text, encoding="utf-8")
        return read(path)

    return made
