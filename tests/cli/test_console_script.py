"""The console script as a process of its own: exit codes, words, and no traceback."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest
from houses import BROKEN, SMALL

SCRIPT = Path(sys.executable).with_name("understudy")


def given(*words: object, **more) -> subprocess.CompletedProcess:
    result = subprocess.run(
        [SCRIPT, *map(str, words)], capture_output=True, timeout=60, check=False, **more
    )
    assert b"Traceback" not in result.stderr
    return result


@pytest.mark.parametrize(
    "content",
    [BROKEN.encode(), b"[zones", b"\xff\xfe\x00", b"", b"x = " + b"[" * 5000, b"a" * 100_000],
    ids=["faults", "half a table", "no UTF-8", "empty", "deep", "long"],
)
@pytest.mark.parametrize("command", ["check", "next"])
def test_a_broken_file_is_said_in_words_with_exit_code_2(tmp_path, command, content):
    path = tmp_path / "broken.toml"
    path.write_bytes(content)
    result = given(command, path)
    assert result.returncode == 2
    assert b"broken.toml" in result.stderr
    assert result.stdout == b""


def test_a_command_that_there_is_not_is_said_with_exit_code_2():
    result = given("chime")
    assert result.returncode == 2
    assert b"chime" in result.stderr


def test_a_reader_that_has_enough_is_no_fault(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(SMALL)
    process = subprocess.Popen(
        [SCRIPT, "rehearse", path, "--from", "2026-11-01", "--until", "2027-11-01", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.readline().startswith(b"{")
    process.stdout.close()
    assert process.stderr.read() == b""
    assert process.wait(30) == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the kernel has no full(4)")
def test_an_output_that_is_full_is_said_in_words(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(SMALL)
    with open("/dev/full", "wb") as full:
        result = subprocess.run(
            [SCRIPT, "next", path], stdout=full, stderr=subprocess.PIPE, timeout=60, check=False
        )
    assert result.returncode == 1
    assert b"No space left" in result.stderr
    assert b"Traceback" not in result.stderr


def test_what_a_terminal_cannot_show_is_replaced(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(SMALL.replace("First class", "Première Ω"), encoding="utf-8")
    environment = os.environ | {"PYTHONIOENCODING": "latin-1", "PYTHONUTF8": "0"}
    result = given("next", path, "--at", "2026-11-25", env=environment)
    assert result.returncode == 0
    assert "Première ?".encode("latin-1") in result.stdout


def test_json_is_utf_8_whatever_the_terminal_speaks(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(SMALL.replace("First class", "Première heure"), encoding="utf-8")
    words = ("rehearse", path, "--from", "2026-11-25T08:00", "--until", "2026-11-25T09:00")
    environment = os.environ | {"PYTHONIOENCODING": "latin-1", "PYTHONUTF8": "0"}
    assert "Première".encode() in given(*words, "--json", env=environment).stdout


def test_on_a_terminal_the_progress_is_gone_before_the_table_comes(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(SMALL)
    ours, theirs = os.openpty()
    # One day: a quick machine shows the bar but once, at its end.
    words = ("rehearse", path, "--from", "2026-11-25", "--until", "2026-11-26")
    environment = os.environ | {"TERM": "xterm", "COLUMNS": "80"}
    process = subprocess.Popen([SCRIPT, *words], stdout=theirs, stderr=theirs, env=environment)
    os.close(theirs)
    shown = b""
    with contextlib.suppress(OSError):  # EIO: the other end is closed and all has been read
        while data := os.read(ours, 65_536):
            shown += data
    os.close(ours)
    assert process.wait(30) == 0
    progress, table = shown.split(b"date  ", 1)
    assert b"Wed 2026-11-25" in progress
    assert b"\x1b" not in table


@pytest.mark.parametrize(
    "command",
    [
        (),
        ("check",),
        ("next",),
        ("rehearse",),
        ("run",),
        ("fake-board",),
        ("release",),
        ("status",),
        ("lines",),
        ("edit", "file"),
        ("backup",),
        ("restore",),
        ("report",),
        ("first-start",),
    ],
)
def test_every_command_has_a_help(command):
    result = given(*command, "--help")
    assert result.returncode == 0
    assert b"Usage: understudy" in result.stdout


def test_help_imports_nothing_that_costs_beside_the_descriptions_of_orders():
    code = (
        "import sys; sys.argv = ['understudy', '--help']\n"
        "from controller.cli.entry import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "dear = ('holidays', 'rich', 'gpiozero', 'gpiod', 'apscheduler', 'sqlite3')\n"
        "print([n for n in sys.modules if n.split('.')[0] in dear or 'rehearsal' in n],"
        " file=sys.stderr)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert result.stderr.strip() == b"[]"


def test_release_is_given_before_typer_is_imported(tmp_path):
    code = (
        "import sys; sys.argv = ['understudy', 'release', '--runtime', sys.argv[1]]\n"
        "from controller.cli.entry import main\n"
        "try: main()\n"
        "except SystemExit as end: print(end.code, 'typer' in sys.modules)"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, tmp_path], capture_output=True, check=False
    )
    assert result.stdout.splitlines()[-1] == b"0 False"


def test_it_says_which_version_it_is():
    assert given("--version").stdout.decode() == f"{version('understudy')}\n"
