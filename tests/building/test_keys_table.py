"""The one table of keys is whole, and what is said of a key is true of it."""

from __future__ import annotations

import subprocess
import sys

import pytest

from controller.building import installed, kept
from controller.building.entries import aliases, default_written, expected, read_entry, takes
from controller.building.keys import keys_markdown
from controller.building.model import TABLES
from controller.building.table import Table

FIELDS = [
    pytest.param(heading, key, field, id=f"{heading} {key}")
    for heading, table in TABLES.items()
    for key, field in aliases(table).items()
]


@pytest.mark.parametrize(("heading", "key", "field"), FIELDS)
def test_every_key_has_a_meaning_a_kind_and_an_example(heading, key, field):
    assert field.description.endswith(".")
    assert takes(field)
    assert field.examples


@pytest.mark.parametrize(("heading", "key", "field"), FIELDS)
def test_every_example_is_taken(heading, key, field):
    example = {} if key == "holes" else field.examples[0]  # its rows are a table of their own
    _, faults = read_entry(TABLES[heading], "x", heading, {key: example})
    assert [fault for fault in faults if fault.key == key] == []


@pytest.mark.parametrize(("heading", "key", "field"), FIELDS)
def test_a_wrong_value_is_answered_with_what_the_table_says(heading, key, field):
    _, faults = read_entry(TABLES[heading], "x", heading, {key: float("inf")})
    told = next(fault for fault in faults if fault.key == key)
    assert told.expected == f"expected {expected(field)}"


@pytest.mark.parametrize(("heading", "key", "field"), FIELDS)
def test_every_key_stands_in_the_documentation_with_its_default(heading, key, field):
    default = "required" if field.is_required() else default_written(field)
    assert f"| `{key}` | {takes(field)} | {default} | {field.description} |" in keys_markdown()


def test_every_table_has_a_docstring_and_is_in_the_documentation():
    tables = {one for one in (vars(installed) | vars(kept)).values() if isinstance(one, type)
              and issubclass(one, Table) and not one.__subclasses__()}  # fmt: skip
    assert tables == set(TABLES.values())
    for heading, table in TABLES.items():
        assert table.__doc__
        assert f"### `{heading}`\n" in keys_markdown()


def test_limits_are_said_in_the_units_of_the_file():
    assert takes(aliases(installed.Zone)["longest"]).startswith('a duration from "100ms" to "2m"')
    assert takes(aliases(installed.Supply)["volts"]) == "a number from 5 to 60 V"
    assert default_written(aliases(installed.Logbook)["keep"]) == '"400d"'
    assert default_written(aliases(kept.Halves)["night"]) == '"18:00"'


def test_tables_are_frozen():
    with pytest.raises(Exception, match="frozen"):
        installed.Supply().volts = 12.0  # type: ignore[misc]


def test_the_table_can_be_printed():
    ran = subprocess.run(
        [sys.executable, "-m", "controller.building.keys"],
        check=True,
        capture_output=True,
        text=True,
    )
    assert ran.stdout == keys_markdown() + "\n"
