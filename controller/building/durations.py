"""Durations as they are written in the file: a number and its unit, "1.5s"; inside, nanoseconds."""

from __future__ import annotations

import re
from decimal import Decimal

MILLISECOND = 1_000_000
SECOND = 1000 * MILLISECOND
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
_UNITS = {"ms": MILLISECOND, "s": SECOND, "m": MINUTE, "h": HOUR, "d": DAY}
_WRITTEN = re.compile(r"([0-9]{1,12}(?:\.[0-9]{1,9})?)(ms|s|m|h|d)")


def duration_ns(text: str) -> int:
    """Nanoseconds of "500ms", "1.5s", "2m", "12h" or "400d". `ValueError` where it is none."""
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise ValueError("not a duration")
    nanoseconds = Decimal(match[1]) * _UNITS[match[2]]
    if nanoseconds != int(nanoseconds):
        raise ValueError("not a whole number of nanoseconds")
    return int(nanoseconds)


def duration_text(nanoseconds: int) -> str:
    """The duration as a person would write it: 75m, 60s, 1.5s. `duration_ns` reads it back."""
    assert nanoseconds >= 0, "a duration is not negative"
    for unit in ("d", "h", "m"):
        if nanoseconds % _UNITS[unit] == 0 and nanoseconds >= 2 * _UNITS[unit]:
            return f"{nanoseconds // _UNITS[unit]}{unit}"
    unit = "s" if nanoseconds >= SECOND or nanoseconds == 0 else "ms"
    number = Decimal(nanoseconds) / _UNITS[unit]
    return f"{number.normalize():f}{unit}"
