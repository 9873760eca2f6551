"""Stores on disk for the tests that ask for one: open, at work on their thread, or died."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from journal_at_work import KEPT, TOWED, Journal
from journal_records import BOOT, MORNING, impulse, note, stamp

from controller.engine.records import TrustRow
from controller.journal import keeping
from controller.journal.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "store.db")
    yield opened
    opened.close()


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    """A store that was empty, at work on its thread."""
    made = Journal(tmp_path / "store.db")
    assert made.thread.load() == []
    yield made
    made.end()


@pytest.fixture
def small_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy takes many steps."""
    monkeypatch.setattr(keeping, "DRAWN_PAGES", 2)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A backup of a winter's morning."""
    died = Store(tmp_path / "died.db")
    died.commit([stamp(5), impulse(4), TOWED, TrustRow(BOOT, MORNING, "keeper"), *KEPT, note(6)])
    died.copy_to(tmp_path / "copy")
    died.close()
    died.path.unlink()
    return tmp_path / "copy"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Where the restored store will be, in a folder of its own."""
    (tmp_path / "state").mkdir()
    return tmp_path / "state" / "store.db"
