"""The pinned locks: one for each kind of machine that systemd/install knows.

    .venv/bin/python systemd/locks.py write                make all of them anew
    .venv/bin/python systemd/locks.py check                see that each can be had, and is whole
    .venv/bin/python systemd/locks.py download TARGET DIR  the wheels of one, for install --from DIR

A lock has the one wheel that pip takes on that machine for each package, by version and SHA-256.
Nothing is compiled, and no package is asked for by its bare name: an unpinned pip takes an old
package named gpiod on 32-bit systems, which is another library.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

HERE = Path(__file__).resolve().parent
# Debian 13 compiles these for 32-bit ARM; all but gpiod go with compiled parts of their own.
DISTRIBUTION = frozenset(["argon2-cffi", "gpiod", "jinja2", "pydantic"])
_MOST_ROUNDS = 10


class LockFault(Exception):
    """What is wrong with a lock, in words."""


class Target(NamedTuple):
    """A kind of machine. `glibc`: its minor version (2.x); None: only wheels with nothing compiled,
    beside the distribution's compiled packages.
    """

    name: str
    machine: str
    python: str
    glibc: int | None

    @property
    def lock(self) -> Path:
        return HERE / f"lock-{self.name}.txt"

    @property
    def platforms(self) -> list[str]:
        if self.glibc is None:
            return ["any"]
        newest_first = range(self.glibc, 16, -1)
        return [f"manylinux_2_{minor}_{self.machine}" for minor in newest_first] + [
            f"manylinux2014_{self.machine}",
            f"linux_{self.machine}",
        ]

    @property
    def markers(self) -> dict[str, str]:
        """What PEP 508's markers are on it."""
        return {name: str(value) for name, value in default_environment().items()} | {
            "python_version": self.python,
            "python_full_version": f"{self.python}.2",
            "implementation_version": f"{self.python}.2",
            "platform_machine": self.machine,
            "extra": "",
        }


TARGETS = (
    Target("arm64-cp311", "aarch64", "3.11", 36),  # Debian 12 has glibc 2.36, Debian 13 has 2.41
    Target("arm64-cp313", "aarch64", "3.13", 41),
    Target("armhf-cp313", "armv7l", "3.13", None),
    Target("amd64-cp311", "x86_64", "3.11", 36),  # for trying it out, and the tests
    Target("amd64-cp313", "x86_64", "3.13", 41),
)


def wanted(target: Target) -> list[Requirement]:
    """What pyproject.toml asks for at work, and for building the package itself."""
    with (HERE.parent / "pyproject.toml").open("rb") as stream:
        project = tomllib.load(stream)
    named = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    return list(_here(map(Requirement, named), target))


def _here(requirements: Iterable[Requirement], target: Target) -> Iterator[Requirement]:
    """Those that pip has to bring to this kind of machine."""
    for requirement in requirements:
        given = target.glibc is None and canonicalize_name(requirement.name) in DISTRIBUTION
        marker = requirement.marker
        if not given and (marker is None or marker.evaluate(target.markers)):
            yield requirement


# ── pip ──────────────────────────────────────────────────────────────────────────────────────────


def _pip(*words: str) -> None:
    told = subprocess.run(
        [sys.executable, "-m", "pip", "--quiet", *words], capture_output=True, text=True
    )
    if told.returncode:
        faults = [line for line in told.stderr.splitlines() if not line.startswith("WARNING")]
        raise LockFault("\n".join(faults))


def _for(target: Target) -> list[str]:
    """pip's words for another machine than this: binary only."""
    words = ["--only-binary", ":all:", "--implementation", "cp", "--python-version", target.python]
    for abi in (f"cp{target.python.replace('.', '')}", "abi3", "none"):
        words += ["--abi", abi]
    for platform in target.platforms:
        words += ["--platform", platform]
    return words


def _resolved(target: Target, *words: str) -> list[dict[str, Any]]:
    """What pip would install there: its installation report (version 1), package by package."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder, "report.json")
        dry = ["install", "--dry-run", "--ignore-installed", "--report", str(report)]
        _pip(*dry, "--target", folder, *_for(target), *words)
        packages: list[dict[str, Any]] = json.loads(report.read_text())["install"]
    return packages


def _missing(packages: list[dict[str, Any]], target: Target) -> list[str]:
    """Requirements that these packages do not meet between them; pip judges markers by itself."""
    versions = {
        canonicalize_name(package["metadata"]["name"]): Version(package["metadata"]["version"])
        for package in packages
    }
    asked = wanted(target)
    for package in packages:
        inner = package["metadata"].get("requires_dist", [])
        asked += _here(map(Requirement, inner), target)
    return sorted(
        {
            f"{requirement.name}{requirement.specifier}"
            for requirement in asked
            if (version := versions.get(canonicalize_name(requirement.name))) is None
            or not requirement.specifier.contains(version, prereleases=True)
        }
    )


# ── commands ─────────────────────────────────────────────────────────────────────────────────────


def write(target: Target) -> str:
    """Make the lock anew, of the newest versions that fit."""
    asked = [f"{one.name}{one.specifier}" for one in wanted(target)]
    for _ in range(_MOST_ROUNDS):
        packages = _resolved(target, *asked)
        missing = _missing(packages, target)
        if not missing:
            break
        asked += missing  # what pip, judging markers by this interpreter, left out
    else:
        raise LockFault(f"no end of what is missing: {', '.join(missing)}")
    beside = "" if target.glibc else " beside Debian's compiled packages,"
    lines = [
        f"# {target.name}: CPython {target.python} on {target.machine},{beside} binary only.",
        "# Made by systemd/locks.py write; not to be changed by hand.",
    ]
    for package in sorted(packages, key=lambda one: canonicalize_name(one["metadata"]["name"])):
        name = canonicalize_name(package["metadata"]["name"])
        sha256 = package["download_info"]["archive_info"]["hashes"]["sha256"]
        lines += [
            f"{name}=={package['metadata']['version']} \\",
            f"    --hash=sha256:{sha256}",
        ]
    target.lock.write_text("\n".join(lines) + "\n")
    return f"{target.lock.name}: {len(packages)} packages"


def check(target: Target) -> str:
    """See that every wheel of the lock is to be had, and that nothing is missing from it."""
    lock = ["--require-hashes", "--no-deps", "-r", str(target.lock)]
    packages = _resolved(target, *lock)
    missing = _missing(packages, target)
    if missing:
        raise LockFault(f"it lacks {', '.join(missing)}; systemd/locks.py write makes it anew")
    return f"{target.lock.name}: {len(packages)} packages, all to be had as wheels"


def download(target: Target, folder: Path) -> str:
    """Put the lock's wheels into a folder."""
    lock = ["--require-hashes", "--no-deps", "-r", str(target.lock)]
    _pip("download", *_for(target), *lock, "--dest", str(folder))
    return f"{folder}: the wheels of {target.lock.name}"


def main(words: list[str]) -> int:
    """The command; its exit code."""
    named = {target.name: target for target in TARGETS}
    match words:
        case ["write"]:
            doing = [partial(write, target) for target in TARGETS]
        case ["check"]:
            doing = [partial(check, target) for target in TARGETS]
        case ["download", name, folder] if name in named:
            doing = [partial(download, named[name], folder=Path(folder))]
        case _:
            print(f"{__doc__}\nTARGET is one of {', '.join(named)}.", file=sys.stderr)
            return 2
    code = 0
    for do in doing:
        try:
            print(do())
        except LockFault as fault:
            print(f"{do.args[0].lock.name}: {fault}", file=sys.stderr)
            code = 1
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
