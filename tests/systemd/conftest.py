"""Understudy installed in Debian machines that run the real systemd: see `debian_machine`.

Tests marked `roots` need root, Debian's packages and some minutes. They are asked for by name:
`pytest -m roots -n 2 tests/systemd`.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from debian_machine import Machine, debian_root, machine
from installing_kit import BOARD, FAKE_PINS, TARGETS, TIMETABLE, WIRING, Kit, copy_source, download


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "roots: needs Debian roots and some minutes; see conftest")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what needs Debian roots, unless it is asked for."""
    if "roots" in (config.option.markexpr or ""):
        return
    slow = [item for item in items if item.get_closest_marker("roots")]
    config.hook.pytest_deselected(items=slow)
    items[:] = [item for item in items if item not in slow]


@pytest.fixture(scope="session", params=list(TARGETS))
def kit(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Kit:
    suite: str = request.param
    folder = tmp_path_factory.mktemp(suite)
    building = folder / "building"
    building.mkdir()
    (building / "10-wiring.toml").write_text(WIRING)
    (building / "20-timetable.toml").write_text(TIMETABLE)
    wheels = download(TARGETS[suite], folder / "wheels")
    return Kit(suite, debian_root(suite), copy_source(folder), wheels, building)


Boot = Callable[..., AbstractContextManager[Machine]]


@pytest.fixture
def bare(kit: Kit, tmp_path: Path) -> Iterator[Boot]:
    """Boots a machine on which nothing of Understudy is."""
    folder = tmp_path / "machine"
    yield lambda *more: machine([kit.root], folder, [*kit.brought, *more])
    shutil.rmtree(folder)


@pytest.fixture(scope="session")
def installed_layer(kit: Kit, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The files of a machine on which it is installed, with a fake board instead of pins."""
    folder = tmp_path_factory.mktemp(f"{kit.suite}-installed")
    with machine([kit.root], folder, kit.brought) as new:
        units = new.file("/etc/systemd/system")
        (units / "understudy.service.d").mkdir()
        (units / "understudy.service.d/fake-pins.conf").write_text(FAKE_PINS)
        kit.install(new)
        units.joinpath("board.service").write_text(BOARD)
        new.run("systemctl", "daemon-reload")
        new.run("systemctl", "enable", "board.service")
        kit.install(new, "--building", "/brought/building")
        new.run("systemctl", "stop", "understudy", "board")
        shutil.rmtree(new.file("/var/lib/understudy"))
    yield folder / "upper"
    shutil.rmtree(folder)


@pytest.fixture
def installed(kit: Kit, installed_layer: Path, tmp_path: Path) -> Iterator[Boot]:
    """Boots a machine on which it is installed."""
    folder, layers = tmp_path / "machine", [installed_layer, kit.root]
    yield lambda *more: machine(layers, folder, [*kit.brought, *more])
    shutil.rmtree(folder)


@pytest.fixture
def at_work(installed: Boot) -> Iterator[Machine]:
    """A machine that has booted, and the daemon with it."""
    with installed() as running:
        running.until("systemctl", "is-active", "understudy")
        yield running
