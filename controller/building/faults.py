"""What is wrong with a building's file, said so that whoever wrote it can put it right."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from typing import Any, NamedTuple

_LONGEST_VALUE = 80  # characters of a value that a message repeats
_MOST_NAMES = 12  # known names that a message lists
_MOST_MESSAGES = 1_000


class Fault(NamedTuple):
    """One fault. `str()` is its one line."""

    file: str
    table: str  # as written: "[zones.north]", "[[calendar]] entry 2"; "" for the file as a whole
    key: str  # "" for the table as a whole
    value: str | None  # as written in the file; None where there is none
    expected: str  # what was expected, in words

    def __str__(self) -> str:
        key = key_written(self.key) if self.key else ""
        assigned = key if self.value is None else f"{key or 'here'} = {self.value}"
        where = " ".join(part for part in (self.table, assigned) if part)
        return ": ".join(part for part in (self.file, where, self.expected) if part)


class Faults(Exception):
    """A building's file that cannot be used: all its faults, in one go."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        assert self.faults, "no faults, no exception"
        super().__init__(self.faults)

    def __str__(self) -> str:
        lines = [str(fault) for fault in self.faults[:_MOST_MESSAGES]]
        if len(self.faults) > _MOST_MESSAGES:
            lines.append(f"and {len(self.faults) - _MOST_MESSAGES} more faults")
        return "\n".join(lines)


def key_written(name: str) -> str:
    """A key as TOML writes it: in quotes where it has more than letters, digits, "_" and "-"."""
    bare = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
    return name if bare else shown(name)


def shown(value: Any) -> str:
    """A value as TOML writes it, on one line, cut where it is long."""
    text = _toml(value)
    return text if len(text) <= _LONGEST_VALUE else text[: _LONGEST_VALUE - 1] + "…"


def _toml(value: Any) -> str:
    match value:
        case bool():
            return str(value).lower()
        case str():
            return json.dumps(value, ensure_ascii=not value.isprintable())
        case int() if value.bit_length() > 200:
            return "(a huge number)"
        case datetime() | date() | time():
            return value.isoformat()
        case Mapping():
            return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
        case list() | tuple():
            return "[" + ", ".join(_toml(one) for one in value) + "]"
        case _:
            return str(value)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that was probably meant, if one is near enough."""
    by_lower = {one.lower(): one for one in known}
    lower = name.lower()
    if lower in by_lower:
        return by_lower[lower]
    begun = [one for one in by_lower if len(one) >= 3 and lower.startswith(one)]
    close = begun or difflib.get_close_matches(lower, by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def not_known(what: str, name: str, known: Iterable[str]) -> str:
    """ "there is no zone "soth"; did you mean "south"?", or what there is instead."""
    names = list(known)
    words = f"there is no {what} {shown(name)}"
    meant = nearest(name, names)
    if meant is not None:
        return f"{words}; did you mean {shown(meant)}?"
    if not names:
        return f"{words}, nor any other"
    listed = ", ".join(names[:_MOST_NAMES]) + (", …" if len(names) > _MOST_NAMES else "")
    return f"{words}; known: {listed}"
