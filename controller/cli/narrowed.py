"""The command line with no more of it than is asked for.

Typer reads the options of every command before it looks which one is given: with some sixty that
takes longer than most orders do.
"""

from __future__ import annotations

from copy import copy

from typer import Typer


def narrowed(app: Typer, word: str) -> Typer:
    """The same with only the command, or group of commands, of this name; whole if none has it."""
    parts = [app]  # and those that were added to it without a name of their own
    parts += [g.typer_instance for g in app.registered_groups if g.typer_instance and not g.name]
    commands = [one for part in parts for one in part.registered_commands]
    groups = [one for part in parts for one in part.registered_groups]
    found = copy(app)
    found.registered_commands = [one for one in commands if one.name == word]
    found.registered_groups = [one for one in groups if one.name == word]
    return found if found.registered_commands or found.registered_groups else app
