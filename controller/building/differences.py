"""What another file changes of the installer's tables, in words."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from hashlib import sha256

from controller.building.entries import value_written
from controller.building.installed import Premises
from controller.building.model import INSTALLERS, Building
from controller.building.table import Table


def wiring_differences(before: Building, after: Building) -> list[str]:
    """Which of the installer's tables differ, and how, in their order: a line for each table.

    "zones.north: relay 17 → 18", "lines.yard: new", "panel.bell: gone". The order of zones counts
    too, for those that wait for the supply begin in it.
    """
    return [line for table in INSTALLERS for line in _of_table(table, before, after)]


def installers_fingerprint(building: Building) -> str:
    """SHA-256 of what the installer's tables say, hexadecimal: what the keeper edits, and how a
    file is laid out, leave it as it is. A key that is as if it were not set does not count.
    """
    said = [
        (heading, list(_set_keys(entry)))
        for table in INSTALLERS
        for heading, entry in _headed(table, building).items()
    ]
    return sha256(json.dumps(said).encode()).hexdigest()


def _of_table(table: str, before: Building, after: Building) -> Iterator[str]:
    old, new = _headed(table, before), _headed(table, after)
    for heading in dict.fromkeys((*old, *new)):
        if heading not in new:
            yield f"{heading}: gone"
        elif heading not in old:
            yield f"{heading}: new"
        elif old[heading] != new[heading]:
            yield f"{heading}: {', '.join(_of_keys(old[heading], new[heading]))}"
    if _in_both(old, new) != (now := _in_both(new, old)):
        yield f"{table}: in another order: {', '.join(now)}"


def _headed(table: str, building: Building) -> Mapping[str, Table]:
    """The entries of a table, each under its heading as in the file; none where it is not there."""
    if table == "building":
        return {table: Premises(name=building.name, timezone=building.civil.key)}
    found: Table | Mapping[str, Table] | None = getattr(building, table)
    if isinstance(found, Mapping):
        return {f"{table}.{name}": entry for name, entry in found.items()}
    return {} if found is None else {table: found}


def _set_keys(entry: Table) -> Iterator[tuple[str, str]]:
    for name, field in type(entry).model_fields.items():
        value = getattr(entry, name)
        if value != field.default:
            yield field.alias or name, value_written(field, value)


def _of_keys(old: Table, new: Table) -> Iterator[str]:
    for name, field in type(old).model_fields.items():
        values = getattr(old, name), getattr(new, name)
        if values[0] != values[1]:
            told = ("not set" if v in (None, ()) else value_written(field, v) for v in values)
            yield f"{field.alias or name} {' → '.join(told)}"


def _in_both(these: Mapping[str, Table], those: Mapping[str, Table]) -> list[str]:
    return [heading.partition(".")[2] for heading in these if heading in those]
