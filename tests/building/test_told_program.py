"""The program that is told of faults: how it is written in the file, and what is refused."""

from __future__ import annotations

import pytest
from building_texts import LEAST

TWENTY = '["/bin/tell"' + ', "x"' * 19 + "]"
TWENTY_ONE = '["/bin/tell"' + ', "x"' * 20 + "]"


def telling(command: str) -> str:
    return f"{LEAST}\n[tell]\ncommand = {command}\n"


def test_without_a_table_nobody_is_told(building_of):
    assert building_of(LEAST).tell is None


def test_a_program_and_its_arguments_are_read_as_they_stand(building_of):
    tell = building_of(telling('["/usr/local/bin/tell-keeper", "--urgent", "", "$HOME *"]')).tell
    assert tell.command == ("/usr/local/bin/tell-keeper", "--urgent", "", "$HOME *")
    assert len(building_of(telling(TWENTY)).tell.command) == 20


@pytest.mark.parametrize(
    "command",
    [
        '["tell-keeper"]', '["./tell-keeper"]', '["/"]', '[""]', "[]", '"/bin/tell"', "[5]",
        '["/bin/tell", 5]', '["/bin/tell", "two\\nlines"]', '["/bin/te\\u0000ll"]', TWENTY_ONE,
        f'["/bin/tell", "{"x" * 201}"]', "true", "[[]]",
    ],
)  # fmt: skip
def test_anything_else_is_refused_in_words(faults_of, command):
    (fault,) = faults_of(telling(command))
    assert (fault.table, fault.key) == ("[tell]", "command")
    assert "a list of 1 to 20 texts in quotes: a program's absolute path" in fault.expected


def test_the_argument_that_is_wrong_is_pointed_at(faults_of):
    (fault,) = faults_of(telling('["/bin/tell", "fine", 5]'))
    assert fault.expected.endswith("wrong in it: 5")


def test_a_table_without_a_command_is_refused(faults_of):
    (fault,) = faults_of(LEAST + "[tell]\n")
    assert (fault.table, fault.key) == ("[tell]", "command")
    assert fault.expected.startswith("is required")
