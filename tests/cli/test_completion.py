"""What the shell completes: names of a running daemon, or nothing, and never a word of trouble."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from controller.service.order_server import Reply

SCRIPT = Path(sys.executable).with_name("understudy")


def completed(*words: str) -> list[str]:
    """What bash is given for the last of these words."""
    environment = os.environ | {
        "_UNDERSTUDY_COMPLETE": "complete_bash",
        "COMP_WORDS": " ".join(("understudy", *words)),
        "COMP_CWORD": str(len(words)),
    }
    result = subprocess.run([SCRIPT], env=environment, capture_output=True, timeout=20, check=False)
    assert result.stderr == b""
    return result.stdout.decode().split()


@pytest.fixture
def knows(daemon):
    """A daemon with two lines, a fault that lasts and one that ended."""
    picture = daemon.desk.picture
    fault = {"says": "it is full", "since": picture["at"]}
    faults = [
        {**fault, "name": "store", "until": None},
        {**fault, "name": "supply", "until": picture["at"]},
    ]
    lines = {**picture["lines"], "yard": picture["lines"]["main"]}
    daemon.shows({**picture, "faults": faults, "lines": lines})
    files = {"a.toml": "[plans.regular]\nrings = []\n", "b.toml": "[plans.exams", "c.toml": ""}
    daemon.desk.replies["files"] = lambda said: Reply(True, "", {"files": files})
    return daemon


def test_commands_are_completed():
    assert completed("sta") == ["status"]


def test_zones_are_completed_and_none_twice(knows):
    assert completed("ring", "") == ["north", "south", "all"]
    assert completed("ring", "n") == ["north"]
    assert completed("ring", "north", "") == ["south", "all"]
    assert completed("quiet", "s") == ["south"]


def test_lines_and_then_what_may_be_said_to_them_are_completed(knows):
    assert completed("lines", "") == ["main", "yard"]
    assert completed("lines", "main", "h") == ["hold"]


def test_plans_of_the_files_are_completed_and_the_two_that_every_building_has(knows):
    assert completed("follow", "2026-11-26", "") == ["regular", "none", "usual"]


def test_faults_that_ended_are_completed(knows):
    assert completed("acknowledge", "") == ["supply"]


def test_where_no_daemon_runs_only_what_every_building_has_is_completed(runtime):
    assert completed("lines", "") == []
    assert completed("acknowledge", "") == []
    assert completed("ring", "") == ["all"]
    assert completed("follow", "2026-11-26", "") == ["none", "usual"]


def test_a_daemon_that_does_not_answer_is_waited_for_half_a_second(daemon):
    daemon.desk.give = lambda words, who, answered: None
    begun = time.monotonic()
    assert completed("follow", "2026-11-26", "u") == ["usual"]
    assert time.monotonic() - begun < 5  # with what the interpreter takes on a busy machine
