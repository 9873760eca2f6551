"""Only the command that is named is built; and it is the very one that the whole has."""

from __future__ import annotations

import pytest
from typer.main import get_command

from controller.cli.app import app
from controller.cli.narrowed import narrowed

WHOLE = get_command(app)


@pytest.mark.parametrize("name", sorted(WHOLE.commands))
def test_each_command_is_found_by_its_name_alone(name):
    found = get_command(narrowed(app, name))
    assert [*found.commands] == [name]
    alone, among_all = found.commands[name], WHOLE.commands[name]
    assert [one.opts for one in alone.params] == [one.opts for one in among_all.params]
    assert getattr(alone, "commands", {}).keys() == getattr(among_all, "commands", {}).keys()


@pytest.mark.parametrize("word", ["", "--help", "--version", "rin", "runs"])
def test_what_names_none_leaves_all(word):
    assert narrowed(app, word) is app
