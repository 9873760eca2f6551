"""What is given on the command line in the building's local time, and how dials are said there.

A local time that does not exist, or occurs twice, is read as one in the file is (design rule 1).
Each function raises `typer.BadParameter`: what was wrong, and what was expected.
"""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import typer

from controller.building.civil import DAY_SECONDS, SECOND, CivilTime
from controller.building.durations import duration_ns, duration_text
from controller.building.faults import not_known
from controller.rehearsal.script import Cut, Polarity, Step

if TYPE_CHECKING:
    from controller.building.model import Building, Line

YEARS = (1970, 2199)
LONGEST_NS = 7305 * DAY_SECONDS * SECOND  # twenty years
MOST = 1_000  # cuts, steps
_MOVED = re.compile(r"(?P<local>.+?)(?P<sign>[+-])(?P<length>[0-9.]+[a-z]+)")
_DIALS = re.compile(
    r"(?P<line>[^=]*)=(?P<hour>[0-9]{2}):(?P<minute>[0-5][0-9])(?::(?P<second>[0-5][0-9]))?"
    r"(?:,(?P<polarity>[+-]))?"
)


def instant(civil: CivilTime, text: str, option: str) -> int:
    """The instant (utc ns) of an ISO 8601 local date (its midnight) or date and time."""
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        raise _bad(
            option,
            f"{text!r} is no local date or time; expected ISO 8601, "
            "such as 2026-11-25 or 2026-11-25T08:30",
        ) from None
    if local.tzinfo is not None:
        raise _bad(option, f"{text!r} has an offset; expected local time of {civil.key} without")
    if not YEARS[0] < local.year <= YEARS[1]:
        raise _bad(option, f"{text!r}: expected a year from {YEARS[0] + 1} to {YEARS[1]}")
    return civil.instant(local)


def instant_or_now(civil: CivilTime, text: str | None, option: str) -> int:
    """The instant of a local date or time; now, to its second, where none is given."""
    if text is None:
        return time.time_ns() // SECOND * SECOND
    return instant(civil, text, option)


def duration(text: str, option: str, most_ns: int = LONGEST_NS) -> int:
    """A duration in ns, written as in the file."""
    try:
        length = duration_ns(text)
    except ValueError:
        raise _bad(
            option, f"{text!r} is no duration; expected a number and ms, s, m, h or d, such as 90s"
        ) from None
    if length > most_ns:
        raise _bad(option, f"{text!r} is too long; expected at most {duration_text(most_ns)}")
    return length


def cuts(civil: CivilTime, texts: Sequence[str], window: tuple[int, int]) -> tuple[Cut, ...]:
    """LOCAL+DURATION each: the power goes at that time, for so long."""
    _not_too_many("--cut", texts)
    found = []
    for text in texts:
        at, sign, length = _moved(civil, text, "--cut", "LOCAL+DURATION", window)
        if sign == "-" or length == 0:
            raise _bad("--cut", f"{text!r}: expected LOCAL+DURATION, longer than nothing")
        found.append(Cut(at, length))
    return tuple(found)


def steps(civil: CivilTime, texts: Sequence[str], window: tuple[int, int]) -> tuple[Step, ...]:
    """LOCAL+DURATION or LOCAL-DURATION each: the system's clock is stepped then, by so much."""
    _not_too_many("--step", texts)
    found = []
    for text in texts:
        form = "LOCAL+DURATION or LOCAL-DURATION"
        at, sign, length = _moved(civil, text, "--step", form, window)
        found.append(Step(at, length if sign == "+" else -length))
    return tuple(found)


def _moved(
    civil: CivilTime, text: str, option: str, form: str, window: tuple[int, int]
) -> tuple[int, str, int]:
    # A date's dashes are followed by digits alone, a duration ends in its unit.
    match = _MOVED.fullmatch(text)
    if match is None:
        raise _bad(option, f"{text!r}: expected {form}, such as 2026-11-25T10:00+90s")
    at = instant(civil, match["local"], option)
    if not window[0] <= at < window[1]:
        raise _bad(option, f"{text!r} is not between --from and --until")
    return at, match["sign"], duration(match["length"], option)


def dials(building: Building, texts: Sequence[str]) -> dict[str, tuple[int, Polarity]]:
    """LINE=HH:MM[:SS][,+|-] each: what a line's dials show, and which polarity came last."""
    found: dict[str, tuple[int, Polarity]] = {}
    for text in texts:
        match = _DIALS.fullmatch(text)
        if match is None:
            raise _bad(
                "--dials",
                f"{text!r}: expected LINE=HH:MM, :SS after it on a half-minute line, and ,+ or ,- "
                "for the polarity that came last, such as main=08:31,+",
            )
        name = match["line"]
        if name not in building.lines:
            raise _bad("--dials", f"{text!r}: {not_known('line', name, building.lines)}")
        if name in found:
            raise _bad("--dials", f"{text!r}: {name} is given twice; expected once")
        line = building.lines[name]
        if match["polarity"] and line.drive == "single":
            raise _bad("--dials", f"{text!r}: a single line has no polarity; expected {name}=HH:MM")
        found[name] = _shown(line, text, match), "+" if match["polarity"] == "+" else "-"
    return found


def _shown(line: Line, text: str, match: re.Match[str]) -> int:
    """The position; on a 12 h face 14:30 and 02:30 are the same, and so are 12:05 and 00:05."""
    if int(match["hour"]) > 23:
        raise _bad("--dials", f"{text!r}: expected an hour from 00 to 23")
    seconds = int(match["hour"]) * 3600 + int(match["minute"]) * 60 + int(match["second"] or 0)
    position, rest = divmod(seconds * SECOND, line.every_ns)
    if rest:
        every = duration_text(line.every_ns)
        raise _bad("--dials", f"{text!r}: the dials move every {every} and never show that")
    return position % line.positions


def _not_too_many(option: str, texts: Sequence[str]) -> None:
    if len(texts) > MOST:
        raise _bad(option, f"given {len(texts)} times; expected at most {MOST:,} times")


def _bad(option: str, words: str) -> typer.BadParameter:
    return typer.BadParameter(words, param_hint=option)
