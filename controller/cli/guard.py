"""No traceback reaches a user: whatever a command raises is said in words."""

from __future__ import annotations

import os
from typing import Any

import typer
from typer.core import TyperGroup

from controller.building.faults import Faults
from controller.circuits.lines import PinsFault
from controller.pictures.spoken import counted

BAD_FILE = 2
FAILED = 1


class NotDone(Exception):
    """A command could not do what was asked. Says why, and what to do."""


class GuardedGroup(TyperGroup):
    """The commands, with words and an exit code for what they raise."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command. Ends with 2 for a bad file, 1 where something else went wrong."""
        try:
            return super().invoke(ctx)
        except Faults as faults:
            _say(f"{faults}\nunderstudy: {counted(len(faults.faults), 'fault')}; see above.")
            raise typer.Exit(BAD_FILE) from None
        except BrokenPipeError:  # the reader had enough, as `head` does
            raise typer.Exit(0) from None
        except Exception as error:
            if isinstance(error, typer.Abort) or hasattr(error, "exit_code"):
                raise  # a word of the command line itself
            if isinstance(error, _in_words()):
                _say(f"understudy: {error}")
                raise typer.Exit(FAILED) from None
            if isinstance(error, OSError):
                _say("understudy: " + ": ".join(_parts(error)))
                raise typer.Exit(FAILED) from None
            if os.environ.get("UNDERSTUDY_TRACEBACK"):
                raise
            _say(
                f"understudy: unforeseen: {type(error).__name__}: {error}\n"
                "This is a fault of the program, not of your file. Setting UNDERSTUDY_TRACEBACK=1 "
                "and giving the command again shows where."
            )
            raise typer.Exit(FAILED) from None


def _in_words() -> tuple[type[Exception], ...]:
    """What says by itself what went wrong; imported only where something did."""
    from controller.editing.keeper_file import EditRefused
    from controller.journal.faults import StoreFault
    from controller.page.people import PeopleFault
    from controller.service.order_client import NoDaemon, Refused

    return NotDone, PinsFault, EditRefused, StoreFault, NoDaemon, Refused, PeopleFault


def _parts(error: OSError) -> list[str]:
    if error.strerror is None:
        return [str(error) or type(error).__name__]
    return [str(name) for name in (error.filename,) if name is not None] + [error.strerror]


def _say(text: str) -> None:
    typer.echo(text, err=True)
