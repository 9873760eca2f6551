"""Reading buildings, and the faults for which one is refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from controller.building.faults import Fault, Faults
from controller.building.file import read
from controller.building.model import Building

BuildingOf = Callable[[str], Building]
FaultsOf = Callable[[str], tuple[Fault, ...]]


@pytest.fixture
def building_of(tmp_path: Path) -> BuildingOf:
    """Reads a building from the text of its file, school.toml."""

    def made(text: str) -> Building:
        path = tmp_path / "school.toml"
        path.write_text(text, encoding="utf-8")
        return read(path)

    return made


@pytest.fixture
def faults_of(building_of: BuildingOf) -> FaultsOf:
    """The faults for which a text is refused."""

    def made(text: str) -> tuple[Fault, ...]:
        with pytest.raises(Faults) as refused:
            building_of(text)
        return refused.value.faults

    return made
