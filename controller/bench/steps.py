"""What a bench test asks for, and what it is told. Pure words.

A test is a script: a generator that yields these one at a time, and is sent what came of each.

    step       it is sent
    Announce   whether to begin (bool)
    Say        nothing
    Ask        one of its answers; None where nobody is there to answer
    Operate    a tuple of `Operation`, one for each closing wanted
    Health     nothing; the health relay shows from now on whether all is well
    Pause      nothing, after so long
    Watch      a tuple of `Seen`, one an input
    Note       nothing; a result, in place of the one of the same test and thing
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Any, Literal, NamedTuple

from controller.bench.histogram import Histogram
from controller.bench.operation import Wanted
from controller.building.wiring import Circuit

Verdict = Literal["well", "fault", "not judged", "not done", "stopped"]
Judge = Literal["sense", "person", "hand", "input", ""]  # by what something was judged


class Relay(NamedTuple):
    """One relay of a circuit."""

    circuit: Circuit
    number: int  # 0; on an alternating line 0 gives + and 1 gives −
    title: str  # of its zone or line

    @property
    def key(self) -> tuple[str, int]:
        return self.circuit.name, self.number

    @property
    def mark(self) -> str:
        """The polarity that it gives; "" where there is but one relay."""
        return "+-"[self.number] if len(self.circuit.relays) == 2 else ""

    @property
    def name(self) -> str:
        """As the fake board and the daemon's faults name it: "zones.north", "lines.main+"."""
        return self.circuit.name + self.mark

    @property
    def pin(self) -> int:
        return self.circuit.relays[self.number]

    @property
    def sense(self) -> int | None:
        """The pin that reads its contact back."""
        return None if self.circuit.sense is None else self.circuit.sense[self.number]


class Result(NamedTuple):
    """What a test found of one thing."""

    test: str
    what: str  # "zones.north", "lines.main+", "lines.main interlock", "north_button"
    title: str
    verdict: Verdict
    by: Judge
    says: tuple[str, ...] = ()  # a sentence each
    figures: tuple[tuple[str, float], ...] = ()  # (what is counted or measured, and its unit)
    histograms: tuple[Histogram, ...] = ()  # of times over many operations


class Announce(NamedTuple):
    """What is to move, and what to disconnect or watch, before it does."""

    test: str
    about: str  # what is tried
    moves: str
    before: str  # what to disconnect, and what to watch


class Say(NamedTuple):
    """A line for the person."""

    text: str


class Ask(NamedTuple):
    """A question, and its answers: the letter that is typed, and what it means."""

    question: str
    answers: tuple[tuple[str, str], ...]


class Operate(NamedTuple):
    """Closings that are asked of the hand at once; more than one only to see it refuse."""

    wanted: tuple[Wanted, ...]


class Health(NamedTuple):
    """Whether the health relay is to be energised."""

    well: bool


class Pause(NamedTuple):
    """Wait."""

    length_ns: int


class Watch(NamedTuple):
    """Show the inputs live: for so long, until the person has seen enough, or all have moved."""

    length_ns: int


class Seen(NamedTuple):
    """What an input did while it was watched."""

    name: str
    closed_at_first: bool
    closed: bool
    moves: int


class Note(NamedTuple):
    """A result; of a test under way, `done` of `of` operations, it is the result so far."""

    result: Result
    done: int = 1
    of: int = 1


Step = Announce | Say | Ask | Operate | Health | Pause | Watch | Note
Script = Generator[Step, Any, None]
