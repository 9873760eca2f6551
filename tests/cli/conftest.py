"""Giving commands, and reading what they say."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from houses import SMALL
from typer.testing import CliRunner

from controller.cli.app import app


class Said(NamedTuple):
    """What a command said, and its exit code."""

    code: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """What it said, without line ends and the space between columns."""
        return " ".join(self.out.split())


Understudy = Callable[..., Said]


@pytest.fixture
def understudy() -> Understudy:
    """Gives a command within this process."""

    def given(*words: object) -> Said:
        result = CliRunner().invoke(app, [str(word) for word in words])
        assert "Traceback" not in result.output + result.stderr
        return Said(result.exit_code, result.stdout, result.stderr)

    return given


@pytest.fixture
def house(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a building's file."""

    def written(text: str) -> Path:
        path = tmp_path / "house.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return written


@pytest.fixture
def small(house: Callable[[str], Path]) -> Path:
    """The file of the small house."""
    return house(SMALL)
