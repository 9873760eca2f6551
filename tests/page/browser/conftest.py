"""One house for all, and a browser to look at it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from beech_house import BeechHouse
from playwright.sync_api import Browser
from windows import chromiums


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BeechHouse]:
    """Each test leaves it as it was found."""
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        found = BeechHouse(tmp_path_factory.mktemp("beech"), Path(short))
        yield found
        found.end()


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """For as long as a module's tests run: Playwright is not begun twice in one process."""
    with chromiums() as browser:
        yield browser


@pytest.fixture(autouse=True)
def windows_are_closed(chromium: Browser) -> Iterator[None]:
    """Whatever was opened."""
    yield
    for context in chromium.contexts:
        context.close()
