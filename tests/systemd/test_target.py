"""Which machines systemd/install takes, and in what words it refuses others."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from installing_kit import SYSTEMD

Asked = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def asked(tmp_path: Path) -> Asked:
    """Asks for a machine; `issue` is whether it has Raspberry Pi OS's own mark."""

    def ask(
        system: str, version: str, architecture: str, python: str, *, issue: bool = True
    ) -> subprocess.CompletedProcess[str]:
        release, mark = tmp_path / "os-release", tmp_path / "rpi-issue"
        release.write_text(f'PRETTY_NAME="A system"\nID={system}\nVERSION_ID="{version}"\n')
        if issue:
            mark.write_text("Raspberry Pi reference\n")
        words = [str(SYSTEMD / "target"), str(release), str(mark), architecture, python]
        return subprocess.run(words, capture_output=True, text=True)

    return ask


@pytest.mark.parametrize(
    ("machine", "target"),
    [
        (("debian", "12", "arm64", "3.11"), "arm64-cp311"),
        (("debian", "13", "arm64", "3.13"), "arm64-cp313"),
        (("raspbian", "13", "armhf", "3.13"), "armhf-cp313"),
        (("debian", "13", "armhf", "3.13"), "armhf-cp313"),
    ],
)
def test_the_systems_it_is_made_for_have_a_lock_each(
    asked: Asked, machine: tuple[str, ...], target: str
) -> None:
    told = asked(*machine)
    assert (told.returncode, told.stdout, told.stderr) == (0, f"{target}\n", "")
    assert (SYSTEMD / f"lock-{target}.txt").is_file()


@pytest.mark.parametrize(
    ("machine", "why"),
    [
        (("debian", "11", "arm64", "3.9"), "this is version 11"),
        (("debian", "14", "arm64", "3.14"), "this is version 14"),
        (("raspbian", "12", "armhf", "3.11"), "this is the 32-bit system of version 12"),
        (("debian", "12", "amd64", "3.11"), "this is an amd64 machine"),
        (("debian", "13", "riscv64", "3.13"), "this is an riscv64 machine"),
        (("fedora", "43", "arm64", "3.14"), "this is fedora 43"),
        (("debian", "12", "arm64", "3.13"), "/usr/bin/python3 is 3.13, and version 12 has"),
        (("debian", "13", "arm64", ""), "/usr/bin/python3 is missing"),
    ],
)
def test_others_are_refused_in_plain_words(
    asked: Asked, machine: tuple[str, ...], why: str
) -> None:
    told = asked(*machine)
    assert (told.returncode, told.stdout) == (1, "")
    assert f"Understudy is not installed here: {why}" in told.stderr
    assert "It is made for Raspberry Pi OS: 64-bit 12 or 13, or 32-bit 13." in told.stderr


def test_a_plain_debian_is_refused_and_told_of_the_way_to_try_it(asked: Asked) -> None:
    told = asked("debian", "13", "arm64", "3.13", issue=False)
    assert told.returncode == 1
    assert "this is Debian 13, but not Raspberry Pi OS" in told.stderr
    assert "--any-debian" in told.stderr


def test_a_machine_that_does_not_say_what_it_is_is_refused(tmp_path: Path) -> None:
    words = [str(SYSTEMD / "target"), str(tmp_path / "none"), "", "arm64", "3.13"]
    told = subprocess.run(words, capture_output=True, text=True)
    assert told.returncode == 1
    assert "which says what system this is" in told.stderr


def test_the_installer_is_root_s_and_knows_no_other_words() -> None:
    told = subprocess.run([str(SYSTEMD / "install"), "--frm"], capture_output=True, text=True)
    assert told.returncode == 1
    assert "there is no option --frm" in told.stderr
    told = subprocess.run([str(SYSTEMD / "install"), "--from"], capture_output=True, text=True)
    assert told.returncode == 1
    assert '--from wants a folder; there is none at ""' in told.stderr
