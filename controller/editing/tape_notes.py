"""What a person noted of a tape while turning the drum by hand: read from a table as text. Pure.

The first line names the columns, and any further columns are the person's own. Where a hole is:
`offset`, HH:MM of tape since its mark; or `clock`, HH:MM that the clock showed when it rang; or
`position`, in whatever unit was measured in. What it rings: `zones`. Commas, semicolons or tabs
part them. Blank lines, and lines that begin with #, are passed over. A ? anywhere in a line says
that it is uncertain.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Literal, NamedTuple

from controller.building.durations import HOUR, MINUTE, SECOND
from controller.building.faults import Fault, Faults, nearest, not_known, shown
from controller.building.values import EVERY_ZONE

MOST_BYTES = 1 << 20
Measure = Literal["offset", "clock", "position"]
MEASURES: tuple[Measure, ...] = ("offset", "clock", "position")
_ZONES = "zones"
_EVERY = ("all", EVERY_ZONE)
_LINE_END = re.compile(r"\r\n?|\n")
_UNIT = re.compile(r"\s*\(.*\)")  # of a column: "position (mm)"
_TIME = re.compile(r"([0-9]{1,3})[:.h]([0-5][0-9])(?:[:.]([0-5][0-9]))?")
_NUMBER = re.compile(r"([0-9]{1,9}(?:[.,][0-9]{1,9})?)\s*[^\W\d_]*°?")  # "45", "12,5 mm", "45°"
_BETWEEN_ZONES = re.compile(r"[\s,;+/&]+")


class Note(NamedTuple):
    """One line: where on the tape, as it was measured, and which zones rang."""

    line: int
    measured: Decimal  # ns since the mark, ns of the clock's day, or units
    written: str
    zones: tuple[str, ...]
    uncertain: bool


class Notes(NamedTuple):
    """All notes in the order of their lines, at least one, and what was measured."""

    measure: Measure
    notes: tuple[Note, ...]


def notes_of(file: str, content: bytes, zones: Sequence[str]) -> Notes:
    """The notes of a building with these zones. Raises `Faults` with all that cannot be read."""
    lines = [
        (number, line)
        for number, line in enumerate(_LINE_END.split(_text(file, content)), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise Faults([Fault(file, "", "", None, f"has no notes; {_EXPECTED}")])
    delimiter, names = _columns(file, *lines[0])
    measure = next(name for name in MEASURES if name in names)
    faults: list[Fault] = []
    notes: list[Note] = []
    for number, line in lines[1:]:
        try:
            notes.append(_note(measure, number, _fields(line, delimiter), names, zones))
        except csv.Error as error:
            faults.append(Fault(file, f"line {number}", "", None, f"cannot be read: {error}"))
        except _Unreadable as words:
            faults.append(Fault(file, f"line {number}", words.column, words.value, words.expected))
    if not faults and not notes:
        faults.append(Fault(file, "", "", None, "has no notes below the names of its columns"))
    if faults:
        raise Faults(faults)
    return Notes(measure, tuple(notes))


# ── the table ────────────────────────────────────────────────────────────────────────────────────

_EXPECTED = (
    "expected a first line that names the columns: zones, and one of offset, clock and position"
)


def _text(file: str, content: bytes) -> str:
    """UTF-8, or what spreadsheets write beside it."""
    if len(content) > MOST_BYTES:
        raise Faults([Fault(file, "", "", None, f"is larger than {MOST_BYTES >> 20} MiB")])
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return content.decode("utf-16", "replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _fields(line: str, delimiter: str) -> list[str]:
    fields = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    return [" ".join(field.split()) for field in fields]


def _columns(file: str, number: int, line: str) -> tuple[str, list[str]]:
    """What parts the columns, and their names."""
    delimiter = max(",;\t", key=line.count)
    names = [_UNIT.sub("", name).lower() for name in _fields(line, delimiter)]
    names = [_ZONES if name == "zone" else name for name in names]
    measures = [name for name in names if name in MEASURES]
    missing = [] if _ZONES in names else [_ZONES]
    missing += [] if measures else list(MEASURES)
    if not missing and len(measures) == 1 and names.count(_ZONES) == 1:
        return delimiter, names
    words = _EXPECTED
    for name in names:
        meant = None if name in (*MEASURES, _ZONES) else nearest(name, missing)
        if meant is not None:
            words += f"; by {shown(name)} did you mean {shown(meant)}?"
    raise Faults([Fault(file, f"line {number}", "", shown(line.strip()), words)])


# ── a line ───────────────────────────────────────────────────────────────────────────────────────


class _Unreadable(Exception):
    def __init__(self, column: str, value: str | None, expected: str) -> None:
        super().__init__(expected)
        self.column = column
        self.value = None if value is None else shown(value)
        self.expected = expected


def _note(
    measure: Measure, number: int, fields: list[str], names: list[str], zones: Sequence[str]
) -> Note:
    if len(fields) > len(names) and names[-1] == _ZONES:  # zones parted as the columns are
        fields = [*fields[: len(names) - 1], " ".join(fields[len(names) - 1 :])]
    if any(fields[len(names) :]):
        words = f"has {len(fields)} fields, and {len(names)} columns are named"
        raise _Unreadable("", None, words)
    uncertain = any("?" in field for field in fields)
    values: Mapping[str, str] = {
        name: field.replace("?", "").strip() for name, field in zip(names, fields, strict=False)
    }
    written = values.get(measure, "")
    rung = tuple(dict.fromkeys(_zones(values.get(_ZONES, ""), zones)))
    return Note(number, _measured(measure, written), written, rung, uncertain)


def _measured(measure: Measure, written: str) -> Decimal:
    if measure == "position":
        number = _NUMBER.fullmatch(written)
        if number is None:
            raise _Unreadable(measure, written, "expected a number, such as 137.5")
        return Decimal(number[1].replace(",", "."))
    match = _TIME.fullmatch(written)
    if match is None or (measure == "clock" and int(match[1]) >= 24):
        example = "a time of day HH:MM" if measure == "clock" else "hours and minutes of tape HH:MM"
        raise _Unreadable(measure, written, f"expected {example}, such as 08:30")
    hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return Decimal(hours * HOUR + minutes * MINUTE + seconds * SECOND)


def _zones(written: str, known: Sequence[str]) -> Iterator[str]:
    names = [name for name in _BETWEEN_ZONES.split(written.lower()) if name]
    if not names:
        raise _Unreadable(_ZONES, written, "names no zone; expected one or more, or all")
    for name in names:
        if name in _EVERY:
            yield from known
        elif name in known:
            yield name
        else:
            raise _Unreadable(_ZONES, written, not_known("zone", name, known))
