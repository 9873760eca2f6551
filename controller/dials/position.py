"""What a line's dials should show, and how they come right.

With N = face ÷ every:  true = ⌊local time of day ÷ every⌋ mod N,  behind = (true − shown) mod N,
ahead = N − behind. Behind = 0 is right; else, if ahead × every ≤ patience, the dials wait; else
they are driven, one impulse every impulse + gap, time going on meanwhile.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal, NamedTuple

from controller.building.civil import SECOND, CivilTime
from controller.building.durations import duration_text

if TYPE_CHECKING:
    from controller.building.installed import Line

Verdict = Literal["right", "wait", "drive"]
_SHOWN = re.compile(r"([0-9]{2}):([0-5][0-9])(?::([0-5][0-9]))?")
_MOST_TURNS = 200_000  # of the computation beforehand; a slower drive is not worth foretelling


def true_position(line: Line, civil: CivilTime, utc: int) -> int:
    """The position (0 up to N) that the dials should show at `utc`."""
    # A face divides the day, so whole days drop out of the remainder.
    return civil.local_ns(utc) // line.every_ns % line.positions


def verdict(line: Line, shown: int, true: int) -> Verdict:
    """Whether dials that show `shown` are right, stand until time reaches them, or are driven."""
    behind = (true - shown) % line.positions
    if behind == 0:
        return "right"
    if (line.positions - behind) * line.every_ns <= line.patience_ns:
        return "wait"
    return "drive"


def next_change(line: Line, civil: CivilTime, utc: int) -> int:
    """The next instant after `utc` at which the true position may be another."""
    return _next_change(line, civil, utc, civil.local_ns(utc))


def _next_change(line: Line, civil: CivilTime, utc: int, local_ns: int) -> int:
    boundary = utc + line.every_ns - local_ns % line.every_ns
    if boundary + local_ns - utc != civil.local_ns(boundary):
        change = civil.next_change(utc, boundary)
        if change is not None:
            return change
    return boundary


def stands_until(line: Line, civil: CivilTime, shown: int, utc: int) -> int:
    """Until when dials that show `shown` at `utc` need no impulse; `utc` where they are driven."""
    local_ns = civil.local_ns(utc)
    if verdict(line, shown, local_ns // line.every_ns % line.positions) == "drive":
        return utc
    return _next_change(line, civil, utc, local_ns)


class Coming(NamedTuple):
    """How a line comes right: after so many impulses, at this instant, showing this."""

    impulses: int
    right_utc: int
    shows: int


def coming_right(line: Line, civil: CivilTime, shown: int, utc: int) -> Coming | None:
    """Foretell how dials that show `shown` at `utc`, at rest, come right.

    The instant is the end of the last impulse, or the one at which time has reached waiting dials;
    `utc` itself where they are right. None where it would take more than 200,000 turns.
    """
    impulses, now = 0, utc
    for _ in range(_MOST_TURNS):
        true = true_position(line, civil, now)
        match verdict(line, shown, true):
            case "right":
                return Coming(impulses, now, shown)
            case "wait":
                now = next_change(line, civil, now)
            case "drive":
                impulses += 1
                shown = (shown + 1) % line.positions
                ended = now + line.impulse_ns
                if true_position(line, civil, ended) == shown:
                    return Coming(impulses, ended, shown)
                now = ended + line.gap_ns
    return None


def face_text(line: Line, shown: int) -> str:
    """A position as HH:MM (HH:MM:SS on a half-minute line), 00:00 up to the face."""
    seconds = shown * line.every_ns // 1_000_000_000
    text = f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}"
    return text if line.every_ns % 60_000_000_000 == 0 else f"{text}:{seconds % 60:02d}"


def position_of(line: Line, text: str) -> int:
    """The position of HH:MM, or HH:MM:SS; on a 12 h face 14:30 and 02:30 are the same.

    `ValueError` says in words what was expected.
    """
    match = _SHOWN.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r}: expected HH:MM, with :SS after it on a half-minute line")
    if int(match[1]) > 23:
        raise ValueError(f"{text!r}: expected an hour from 00 to 23")
    seconds = int(match[1]) * 3600 + int(match[2]) * 60 + int(match[3] or 0)
    position, rest = divmod(seconds * SECOND, line.every_ns)
    if rest:
        every = duration_text(line.every_ns)
        raise ValueError(f"{text!r}: the dials move every {every} and never show that")
    return position % line.positions
