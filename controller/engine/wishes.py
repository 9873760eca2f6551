"""What a person may order of the engine."""

from __future__ import annotations

from datetime import date
from typing import Literal, NamedTuple


class RingByHand(NamedTuple):
    zones: tuple[str, ...]
    length: int  # ns


class StopAll(NamedTuple):
    pass


class QuietZones(NamedTuple):
    zones: tuple[str, ...]
    until: int  # utc; 0 lifts


class Follow(NamedTuple):
    day: date
    plan: str


class HoldLine(NamedTuple):
    line: str


class GoLine(NamedTuple):
    line: str


class SetLine(NamedTuple):
    line: str
    shown: int
    polarity: Literal["+", "-"] | None  # None: not known, taken as −, and doubtful


class StepLine(NamedTuple):
    line: str
    impulses: int


class DriveLine(NamedTuple):
    """Drive a line's dials to a position and hold them there."""

    line: str
    shown: int


class LineRight(NamedTuple):
    """A person has looked: the dials show what is believed."""

    line: str


class LineStood(NamedTuple):
    """A person has watched: the dials did not move at the first impulse after a `set`."""

    line: str


class LineSwapped(NamedTuple):
    """The two wires of a line were exchanged."""

    line: str


class LineMoved(NamedTuple):
    """The dials of a line were moved behind our back: nobody knows what they show."""

    line: str


class TrustClock(NamedTuple):
    """A person has looked: the system's clock is right."""


class Acknowledge(NamedTuple):
    """A person has seen these faults, or all ("": those that ended are listed no more)."""

    name: str


class Noted(NamedTuple):
    """Somebody had something done beside the engine, which the logbook is to tell."""

    text: str


class Finish(NamedTuple):
    """The daemon is about to end in order: store what is owed."""


Wish = (
    RingByHand
    | StopAll
    | QuietZones
    | Follow
    | HoldLine
    | GoLine
    | SetLine
    | StepLine
    | DriveLine
    | LineRight
    | LineStood
    | LineSwapped
    | LineMoved
    | TrustClock
    | Acknowledge
    | Noted
    | Finish
)
