"""The daemon's unit, as systemd's own tools judge it."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from installing_kit import SYSTEMD

from controller.circuits import hand

UNIT = (SYSTEMD / "understudy.service").read_text()
EXPOSURE = 1.2  # of 10, as systemd 252 and 257 judge; README.md tells what it is made of


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    """The unit, with a program that is there everywhere."""
    file = tmp_path / "understudy.service"
    file.write_text(UNIT.replace("/opt/understudy/current/bin/understudy", "/bin/true"))
    return file


def analysed(*words: str) -> str:
    done = subprocess.run(["systemd-analyze", *words], capture_output=True, text=True)
    said = done.stdout + done.stderr
    assert done.returncode == 0, said
    return said


def settings(name: str) -> list[str]:
    return re.findall(rf"^{name}=(.*)$", UNIT, re.MULTILINE)


def test_systemd_finds_no_fault_in_the_unit(unit: Path) -> None:
    assert analysed("verify", "--man=no", str(unit)) == ""


def test_the_sandbox_is_as_strict_as_the_readme_says(unit: Path) -> None:
    threshold = f"--threshold={EXPOSURE * 10:.0f}"
    said = analysed("security", "--offline=true", "--no-pager", threshold, str(unit))
    assert f"Overall exposure level for understudy.service: {EXPOSURE}" in said
    assert f"**{EXPOSURE}**" in (SYSTEMD / "README.md").read_text()


def test_the_sandbox_with_a_network_is_as_strict_as_the_readme_says(unit: Path) -> None:
    drop_in = (SYSTEMD / "tell-network.conf").read_text()
    service = drop_in[drop_in.index("[Service]") :]
    unit.write_text(f"{unit.read_text()}\n{service}")
    said = analysed("security", "--offline=true", "--no-pager", str(unit))
    level = re.search(r"understudy.service: ([0-9.]+)", said)
    assert level is not None
    assert f"**{level[1]}**" in (SYSTEMD / "README.md").read_text()


def test_the_hand_is_allowed_the_priority_that_it_asks_for() -> None:
    assert settings("LimitRTPRIO") == [str(hand._PRIORITY)]


def test_the_daemon_comes_before_other_programs() -> None:
    assert int(*settings("Nice")) < 0
    for weight in ("CPUWeight", "IOWeight"):
        assert int(*settings(weight)) > 100  # what a unit has that says nothing


def test_the_watchdog_waits_as_long_as_the_hand_does() -> None:
    assert settings("WatchdogSec") == [str(hand.SILENCE_NS // 1_000_000_000)]


def test_release_runs_before_each_start_and_after_each_end() -> None:
    program = "/opt/understudy/current/bin/understudy"
    assert settings("ExecStartPre") == [f"-{program} release /etc/understudy/building"]
    assert settings("ExecStopPost") == [f"{program} release /etc/understudy/building"]
