"""A building in a folder of its own: the installer's file and the keeper's."""

from __future__ import annotations

from pathlib import Path

import pytest
from elm_house import KEEPERS, TIMETABLE, WIRING


@pytest.fixture
def folder(tmp_path) -> Path:
    made = tmp_path / "elm-house"
    made.mkdir()
    (made / "10-wiring.toml").write_text(WIRING, encoding="utf-8")
    (made / KEEPERS).write_text(TIMETABLE, encoding="utf-8")
    return made


@pytest.fixture
def versions(tmp_path) -> Path:
    return tmp_path / "state" / "versions"
