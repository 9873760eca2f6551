"""What is given on the command line in the building's local time, and how dials are said there.

A local time that does not exist, or occurs twice, is read as one in the file is (design rule 1).
Each function raises `typer.BadParameter`: what was wrong, and what was expected.
"""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

from controller.building.civil import DAY_SECONDS, SECOND, CivilTime
from controller.building.durations import duration_ns, duration_text
from controller.building.faults import not_known
from controller.dials.position import position_of
from controller.rehearsal.script import Cut, Polarity, Step

if TYPE_CHECKING:
    from controller.building.model import Building

LONGEST_NS = 7305 * DAY_SECONDS * SECOND  # twenty years
MOST = 1_000  # cuts, steps
_MOVED = re.compile(r"(?P<local>.+?)(?P<sign>[+-])(?P<length>[0-9.]+[a-z]+)")
_DIALS = re.compile(
    r"(?P<line>[^=]*)=(?P<shows>[0-9]{2}:[0-5][0-9](?::[0-5][0-9])?)(?:,(?P<polarity>[+-]))?"
)


def instant(civil: CivilTime, text: str, option: str) -> int:
    """The instant (utc ns) of an ISO 8601 local date (its midnight) or date and time."""
    try:
        return civil.instant_of(text)
    except ValueError as fault:
        raise _bad(option, str(fault)) from None


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
        try:
            shown = position_of(line, match["shows"])
        except ValueError as fault:
            raise _bad("--dials", f"{name}: {fault}") from None
        found[name] = shown, "+" if match["polarity"] == "+" else "-"
    return found


def _not_too_many(option: str, texts: Sequence[str]) -> None:
    if len(texts) > MOST:
        raise _bad(option, f"given {len(texts)} times; expected at most {MOST:,} times")


def _bad(option: str, words: str) -> typer.BadParameter:
    return typer.BadParameter(words, param_hint=option)
