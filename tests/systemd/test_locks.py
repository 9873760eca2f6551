"""The pinned locks. That their wheels can be had is asked by `systemd/locks.py check`."""

from __future__ import annotations

import importlib.util
import re
import sys
from types import ModuleType

import pytest
from installing_kit import SYSTEMD
from packaging.utils import canonicalize_name


def _module() -> ModuleType:
    spec = importlib.util.spec_from_file_location("locks", SYSTEMD / "locks.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["locks"] = module
    spec.loader.exec_module(module)
    return module


locks = _module()
PINNED = re.compile(r"([a-z0-9-]+)==([0-9][0-9a-z.]*) \\\n    --hash=sha256:[0-9a-f]{64}\n")


@pytest.fixture(params=locks.TARGETS, ids=lambda target: target.name)
def target(request: pytest.FixtureRequest) -> object:
    return request.param


def pinned(target: object) -> dict[str, str]:
    """Package → version."""
    return dict(PINNED.findall(target.lock.read_text()))


def test_a_lock_names_nothing_but_versions_and_their_hashes(target: object) -> None:
    lines = target.lock.read_text().splitlines(keepends=True)
    text = "".join(line for line in lines if not line.startswith("#"))
    assert PINNED.sub("", text) == ""


def test_a_lock_meets_what_the_project_asks_for(target: object) -> None:
    versions = pinned(target)
    for requirement in locks.wanted(target):
        version = versions.get(canonicalize_name(requirement.name))
        assert version is not None, f"{requirement.name} is missing: systemd/locks.py write"
        assert requirement.specifier.contains(version), f"{requirement}, not {version}"


def test_where_the_distribution_compiles_pip_brings_nothing_that_needs_compiling() -> None:
    target = next(one for one in locks.TARGETS if one.name == "armhf-cp313")
    assert target.platforms == ["any"]
    assert not pinned(target).keys() & {"gpiod", "pydantic", "pydantic-core"}


def test_every_lock_belongs_to_a_target() -> None:
    assert {one.lock for one in locks.TARGETS} == set(SYSTEMD.glob("lock-*.txt"))
