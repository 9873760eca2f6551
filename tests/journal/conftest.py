"""A store on disk for every test that asks for one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.journal.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "store.db")
    yield opened
    opened.close()
