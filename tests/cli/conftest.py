"""Giving commands, and reading what they say."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from desks import FakeDaemon, small_picture
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
    """Gives a command within this process; `typed` is what a person types at its questions."""

    def given(*words: object, typed: str = "") -> Said:
        result = CliRunner().invoke(app, [str(word) for word in words], input=typed)
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


@pytest.fixture
def runtime(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A runtime folder in which no daemon runs; every command looks there."""
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        monkeypatch.setenv("UNDERSTUDY_RUNTIME", short)
        yield Path(short)


@pytest.fixture
def state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A state folder with nothing in it; every command looks there."""
    folder = tmp_path / "state"
    folder.mkdir()
    monkeypatch.setenv("UNDERSTUDY_STATE", str(folder))
    return folder


@pytest.fixture
def daemon(runtime: Path, state_folder: Path) -> Iterator[FakeDaemon]:
    """A daemon of the small house, in which all is well."""
    fake = FakeDaemon(runtime, small_picture(SMALL))
    yield fake
    fake.close()
