"""The kinds of value that keys take: how each is read from TOML, and how each is said in words.

A kind is a type annotated with a reader and a `Kind`. Limits stand with the key, in
installed.py and kept.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime, time
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, Field, PlainValidator

from controller.building.conductors import Conductor, conductor
from controller.building.durations import MILLISECOND, SECOND, duration_ns, duration_text
from controller.building.faults import shown

EVERY_ZONE = "*"
NO_RINGS = "none"  # the plan that has none
USUAL = "usual"  # the plan that is week and tape together
RESERVED = ("all", NO_RINGS, USUAL, EVERY_ZONE)
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MOST_TEXT = 200
MOST_COLOUR = 30
_TIME = re.compile(r"([0-9]{2}):([0-9]{2})(?::([0-9]{2}))?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NAME = re.compile(r"[a-z0-9-]{1,40}")
_PANEL_NAME = re.compile(r"[a-z0-9_-]{1,40}")

Half = Literal["day", "night"]
HalfDay = tuple[int, Half]  # ISO weekday (Monday is 1), and the half that begins on it


class Kind(NamedTuple):
    """How a kind of value is said: "a number from 5 to 60 V"."""

    words: str  # what it is
    written: Callable[[Any], str] = shown  # a value as it stands in the file
    unit: str = ""  # after the limits
    more: str = ""  # after the unit


# ── readers: from what TOML gives. `ValueError` where it is something else. ──────────────────────


def _duration(value: object) -> int:
    if not isinstance(value, str):
        raise ValueError("not a duration in quotes")
    return duration_ns(value)


def _seconds(value: object) -> int:
    """A number of seconds, as strokes are written, in ns."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e6:
        raise ValueError("not a number of seconds")
    return round(value * SECOND)


def _time_of_day(value: object) -> time:
    if isinstance(value, time):
        if value.microsecond:
            raise ValueError("not a whole second")
        return value
    match = _TIME.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError("not a time of day")
    return time(int(match[1]), int(match[2]), int(match[3] or 0))


def _date(value: object) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if not isinstance(value, str) or _DATE.fullmatch(value) is None:
        raise ValueError("not a date")
    return date.fromisoformat(value)


def _offset(value: object) -> int:
    return ns_of_day(_time_of_day(value))


def _text(value: object) -> str:
    if not isinstance(value, str) or any(
        ord(letter) < 32 or ord(letter) == 127 for letter in value
    ):
        raise ValueError("not text on one line")
    return value


def _wire(value: object) -> Conductor:
    if not isinstance(value, str):
        raise ValueError("not a conductor in quotes")
    return conductor(value)


def _filled_text(value: object) -> str:
    text = _text(value)
    if not text.strip():
        raise ValueError("no word in it")
    return text


def _listed(value: object) -> tuple[object, ...]:
    if not isinstance(value, list):
        raise ValueError("not a list")
    return tuple(value)


def _one_or_listed(value: object) -> tuple[object, ...]:
    return (value,) if isinstance(value, int) else _listed(value)


def _command(value: object) -> tuple[object, ...]:
    """A program by its absolute path, so that no search path decides which; and its arguments."""
    words = _listed(value)
    program = words[0] if words else None
    if isinstance(program, str) and not (program.startswith("/") and program.strip("/")):
        raise ValueError("not an absolute path")
    return words


def _half_days(value: object) -> tuple[HalfDay, ...]:
    """ "sat" is its day and its night, "fri night" that night alone."""
    weekday, _, half = value.partition(" ") if isinstance(value, str) else ("", "", "")
    number = WEEKDAYS.index(weekday) + 1  # ValueError, where it is none
    match half:
        case "day":
            return ((number, "day"),)
        case "night":
            return ((number, "night"),)
        case "" if value == weekday:
            return ((number, "day"), (number, "night"))
    raise ValueError("not a half of a day")


# ── how they are written ─────────────────────────────────────────────────────────────────────────


def _duration_written(nanoseconds: int) -> str:
    return f'"{duration_text(nanoseconds)}"'


def _wire_written(wire: Conductor) -> str:
    return f'"{wire}"'


def _time_written(at: time) -> str:
    return f'"{at.isoformat("seconds" if at.second else "minutes")}"'


# ── kinds ────────────────────────────────────────────────────────────────────────────────────────

_a_duration = Kind("a duration", _duration_written, more=" (a number and ms, s, m, h or d)")
Duration = Annotated[int, BeforeValidator(_duration), _a_duration]
FullOrHalfMinute = Annotated[
    Literal[60_000_000_000, 30_000_000_000], BeforeValidator(_duration), _a_duration
]
HalfOrWholeDay = Annotated[
    Literal[43_200_000_000_000, 86_400_000_000_000], BeforeValidator(_duration), _a_duration
]
TapeTurn = Annotated[
    Literal[21_600_000_000_000, 43_200_000_000_000, 86_400_000_000_000],
    BeforeValidator(_duration),
    _a_duration,
]
TimeOfDay = Annotated[
    time,
    BeforeValidator(_time_of_day),
    Kind('a time of day, "HH:MM" or "HH:MM:SS", from 00:00 to 23:59:59', _time_written),
]
Date = Annotated[
    date,
    BeforeValidator(_date),
    Field(ge=date(1970, 1, 1), le=date(2199, 12, 31)),
    Kind('a date that exists, "YYYY-MM-DD",'),
]
Text = Annotated[
    str,
    BeforeValidator(_text),
    Field(max_length=MOST_TEXT),
    Kind(f"text on one line in quotes, at most {MOST_TEXT} letters"),
]
Flag = Annotated[bool, Kind("true or false, without quotes")]
Level = Annotated[Literal["high", "low"], Kind("a level")]
Pin = Annotated[
    int,
    Field(ge=2, le=27),
    Kind("a BCM GPIO number", more=" (0 and 1 belong to the identification EEPROM)"),
]
Pins = Annotated[
    tuple[Pin, ...],
    BeforeValidator(_one_or_listed),
    Field(min_length=1, max_length=2),
    Kind(
        "two BCM GPIO numbers [+, −] for an alternating line, one for a single line, "
        "each from 2 to 27 (0 and 1 belong to the identification EEPROM)"
    ),
]
Count = Annotated[int, Kind("a whole number")]
Amperes = Annotated[float, Field(ge=0.001, le=100), Kind("a number", unit=" A")]
Volts = Annotated[float, Field(ge=5, le=60), Kind("a number", unit=" V")]
Suppressor = Annotated[
    Literal["diode", "zener", "bidirectional", "varistor", "rc", "none"], Kind("a suppressor")
]
LeastVolts = Annotated[float, Field(ge=1, le=60), Kind("a number", unit=" V")]
CellVolts = Annotated[float, Field(ge=1.5, le=2.8), Kind("a number", unit=" V")]
Metres = Annotated[float, Field(ge=0.5, le=5000), Kind("a number", unit=" m")]
Ohms = Annotated[float, Field(ge=0.01, le=100_000), Kind("a number", unit=" Ω")]
Henries = Annotated[float, Field(ge=0.0001, le=1000), Kind("a number", unit=" H")]
AmpHours = Annotated[float, Field(ge=0.1, le=10_000), Kind("a number", unit=" Ah")]
Hours = Annotated[float, Field(ge=0.1, le=1000), Kind("a number", unit=" h")]
Times = Annotated[float, Kind("a number")]
Wire = Annotated[
    Conductor,
    PlainValidator(_wire),
    Kind(
        'a copper conductor in quotes: "1.5 mm2" (0.05 to 50) or "18 AWG" (4 to 36), then '
        '"stranded" or "flexible" unless it is solid',
        _wire_written,
    ),
]
ZoneNames = Annotated[
    tuple[str, ...],
    BeforeValidator(_listed),
    Field(min_length=1),
    Kind('a list of zones, or ["*"] for all of them'),
]
LineName = Annotated[str, Kind("the name of a line in quotes")]
ReturnName = Annotated[str, Kind("the name of a return in quotes")]
PlanName = Annotated[str, Kind("the name of a plan in quotes")]
TimeZone = Annotated[str, Kind("an IANA time zone in quotes")]
Country = Annotated[str, Kind("a country's two capital letters in quotes")]
Subdivision = Annotated[str, Kind("a subdivision's code in quotes")]
Command = Annotated[
    tuple[Annotated[str, BeforeValidator(_text), Field(max_length=MOST_TEXT)], ...],
    BeforeValidator(_command),
    Field(min_length=1, max_length=20),
    Kind(
        "a list of 1 to 20 texts in quotes: a program's absolute path, and what it is called with"
    ),
]
Texts = Annotated[
    tuple[Annotated[str, BeforeValidator(_filled_text), Field(max_length=MOST_TEXT)], ...],
    BeforeValidator(_listed),
    Field(min_length=1, max_length=100),
    Kind(f"a list of 1 to 100 texts in quotes, each of 1 to {MOST_TEXT} letters"),
]
Colour = Annotated[
    str,
    BeforeValidator(_filled_text),
    Field(max_length=MOST_COLOUR),
    Kind(f"a colour in quotes, at most {MOST_COLOUR} letters"),
]
Colours = Annotated[
    tuple[Colour, ...],
    BeforeValidator(_listed),
    Field(min_length=1, max_length=2),
    Kind(f"a list of 1 or 2 colours in quotes, each of at most {MOST_COLOUR} letters"),
]
Strokes = Annotated[
    tuple[
        Annotated[int, BeforeValidator(_seconds), Field(ge=10 * MILLISECOND, le=120 * SECOND)],
        ...,
    ],
    BeforeValidator(_listed),
    Field(min_length=1, max_length=99),
    Kind("a list of seconds on, off, on …: an odd number of them, each from 0.01 to 120"),
]
Rings = Annotated[
    tuple[object, ...],
    BeforeValidator(_listed),
    Field(max_length=2000),
    Kind("a list of at most 2000 rings, each in braces with a comma after it"),
]
HalfDays = Annotated[
    tuple[Annotated[tuple[HalfDay, ...], BeforeValidator(_half_days)], ...],
    BeforeValidator(_listed),
    Field(max_length=21),
    Kind('a list of weekdays (mon … sun), each alone or with " day" or " night"'),
]
Holes = Annotated[dict[str, tuple[int, ...]], Kind("a table [tape.holes] of zone = offsets")]
Offsets = Annotated[
    tuple[Annotated[int, BeforeValidator(_offset)], ...],
    BeforeValidator(_listed),
    Field(max_length=1440),
    Kind('a list of offsets "HH:MM" from the tape\'s mark'),
]


def ns_of_day(at: time) -> int:
    """From midnight to a time of day, on the clock's face."""
    assert at.microsecond == 0, "times of day are whole seconds"
    return (at.hour * 3600 + at.minute * 60 + at.second) * SECOND


def time_at(ns_of_day: int) -> time:
    """The time of day so long after midnight, to its second."""
    minutes, second = divmod(ns_of_day // SECOND, 60)
    return time(*divmod(minutes, 60), second)


def half_days_written(half_days: Iterable[HalfDay]) -> Iterator[str]:
    """ "fri night", "sat": a day with both its halves by its name alone. In the week's order."""
    found = set(half_days)
    for number, day in enumerate(WEEKDAYS, 1):
        halves = [half for half in ("day", "night") if (number, half) in found]
        if halves:
            yield day if len(halves) == 2 else f"{day} {halves[0]}"


def is_name(name: str) -> bool:
    """Whether a zone, a line or a plan may be called so."""
    return _NAME.fullmatch(name) is not None and name not in RESERVED


def is_panel_name(name: str) -> bool:
    """Whether a panel entry may be called so."""
    return _PANEL_NAME.fullmatch(name) is not None
