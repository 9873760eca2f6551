"""Values that may not be known, and what the installer is told where something will not work."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Literal, NamedTuple

What = Literal[
    "volts", "series", "fuse", "contact", "suppressor", "coil", "supply", "battery", "limit"
]


class ToBeMeasured(NamedTuple):
    """Stands where the file's numbers cannot give a value. It is not 0."""

    what: str  # "length of its run"

    def __str__(self) -> str:
        return f"to be measured: {self.what}"


Figure = float | ToBeMeasured


class NotKnown(Exception):
    """A value is asked for that the file's numbers cannot give; the text says what is missing."""


class Finding(NamedTuple):
    """Something that will not work as the file has it, and what to change."""

    circuit: str  # "zones.north", "lines.main", "returns.attic", "battery", "supply"
    what: What
    says: str


def figure(value: Callable[[], float]) -> Figure:
    """A value, or what must be measured before there is one."""
    try:
        return value()
    except NotKnown as missing:
        return ToBeMeasured(str(missing))


def as_known(findings: Iterator[Finding]) -> Iterator[Finding]:
    """What is found before a value is needed that is not known."""
    with suppress(NotKnown):
        yield from findings
