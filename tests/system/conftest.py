"""The real thing: a guest with a real kernel, its GPIO character device and the real systemd.

Tests marked `system` need root, Debian's packages (build_guest.py names them) and minutes to an
hour. They are asked for by name: `pytest -m system tests/system` is the short form; full.py runs
the parts of the full one. Where the guest cannot be built they fail.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from guest_at_work import Installed, at_work, installed
from machine import Machine


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "system: needs a guest and minutes; see conftest")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what needs a guest, unless it is asked for."""
    if "system" in (config.option.markexpr or ""):
        return
    slow = [item for item in items if item.get_closest_marker("system")]
    config.hook.pytest_deselected(items=slow)
    items[:] = [item for item in items if item not in slow]


@pytest.fixture(scope="session")
def written_down() -> Installed:
    """A guest at work, as it was written down."""
    return installed()


@pytest.fixture
def work(written_down: Installed, tmp_path: Path) -> Iterator[Machine]:
    """A guest at work; its clock says some minutes past 08:28."""
    with at_work(written_down, tmp_path / "guest") as one:
        yield one
