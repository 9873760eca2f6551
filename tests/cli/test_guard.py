"""What a command raises is said in words."""

from __future__ import annotations

import errno

import pytest
import typer
from typer.testing import CliRunner

from controller.building.faults import Fault, Faults
from controller.circuits.lines import PinsFault
from controller.cli.guard import GuardedGroup


def outcome(raised: BaseException):
    app = typer.Typer(cls=GuardedGroup)

    @app.command()
    def break_off() -> None:
        raise raised

    @app.command()
    def other() -> None:
        """So that there are two commands, and a group."""

    return CliRunner().invoke(app, ["break-off"])


@pytest.mark.parametrize(
    ("raised", "code", "words"),
    [
        (Faults([Fault("a.toml", "[x]", "y", "1", "no")]), 2, "a.toml: [x] y = 1: no"),
        (PinsFault("GPIO17 is busy"), 1, "GPIO17 is busy"),
        (OSError(errno.ENOSPC, "No space left on device", "/x"), 1, "/x: No space left on device"),
        (TimeoutError("nobody answers"), 1, "nobody answers"),
        (AssertionError("never"), 1, "fault of the program, not of your file"),
        (typer.BadParameter("not that"), 2, "not that"),
        (typer.Exit(3), 3, ""),
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), 0, ""),
    ],
)
def test_each_ends_with_its_exit_code_and_its_words(raised, code, words):
    result = outcome(raised)
    assert result.exit_code == code
    assert words in result.stderr
    assert isinstance(result.exception, SystemExit | type(None))


def test_who_wants_to_see_where_may(monkeypatch):
    monkeypatch.setenv("UNDERSTUDY_TRACEBACK", "1")
    assert isinstance(outcome(AssertionError("never")).exception, AssertionError)
