"""A building, a daemon's desk and a person at the page."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from keepers import PASSWORD, Keeper
from keepers_desk import HOUSE, KeepersDaemon
from starlette.testclient import TestClient

from controller.page import asking
from controller.page.people import HASHER, KeptPerson, People, keep_people
from controller.page.settings import Settings
from controller.page.site import site

_HASH = HASHER.hash(PASSWORD)  # once: it takes its time on purpose


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[KeepersDaemon]:
    """Elm House, run by a desk without an engine."""
    (tmp_path / "state").mkdir()
    file = tmp_path / "elm-house.toml"
    file.write_text(HOUSE)
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        found = KeepersDaemon(file, Path(short), tmp_path / "state")
        yield found
        found.close()


@pytest.fixture
def visit(
    daemon: KeepersDaemon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[TestClient]:
    """A browser at the page of Elm House, and nobody signed in: ada may edit, bo act, cy look."""
    monkeypatch.setattr(asking, "FRESH_SECONDS", -1.0)  # what was seen is never taken as new
    people = tmp_path / "people.toml"
    roles = {"ada": "edit", "bo": "act", "cy": "look"}
    kept = {name: KeptPerson(role=role, password=_HASH) for name, role in roles.items()}
    keep_people(people, People(people=kept))
    settings = Settings(daemon.path, daemon.runtime, tmp_path / "state", people)
    with TestClient(site(settings)) as client:
        yield client


@pytest.fixture
def keeper(visit: TestClient) -> Keeper:
    """Ada, who may edit."""
    return Keeper(visit, "ada")
