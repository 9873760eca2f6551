"""The hand's rules on a bench: a clock of its own, some circuits, and a record of every closing."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import NamedTuple

from controller.building.wiring import Circuit
from controller.circuits.rules import HandRules, Switch
from controller.engine.contract import Amend, Cancel, Outcome, Play

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
START = 5_000 * SECOND
BELL = Circuit("zones.bell", "zone", (17,), "high", 4 * SECOND, 10 * SECOND, 0, None)
GONG = Circuit("zones.gong", "zone", (27,), "high", 10 * SECOND, MINUTE, 0, None)
MAIN = Circuit("lines.main", "line", (22, 23), "high", SECOND, 0, SECOND, None)
YARD = Circuit("lines.yard", "line", (24,), "high", 2 * SECOND, 0, SECOND // 5, None)
CIRCUITS = {circuit.name: circuit for circuit in (BELL, GONG, MAIN, YARD)}


def ns(*seconds: float) -> tuple[int, ...]:
    return tuple(round(one * 1000) * 1_000_000 for one in seconds)


class Closed(NamedTuple):
    circuit: str
    relay: int
    since: int
    until: int


class Bench:
    """The rules with a clock of their own, and a record of every closing."""

    def __init__(
        self, rested: bool = True, circuits: Iterable[Circuit] = CIRCUITS.values()
    ) -> None:
        self.now = START
        self.rules = HandRules("hand", circuits, START - MINUTE if rested else START)
        self.numbers = itertools.count(1)
        self.closings: list[Closed] = []
        self.closed: dict[tuple[str, int], int] = {}
        self.outcomes: list[Outcome] = []
        self.taken: list[int] = []

    def play(self, circuit: str, *edges: float, at: float = 0, latest: float = 5, relay=0) -> int:
        """Ask for a play, `at` and `latest` in seconds from now; refusals are outcomes too."""
        start = self.now + ns(at)[0]
        number = next(self.numbers)
        play = Play(number, "hand", circuit, relay, start, start + ns(latest)[0], ns(*edges))
        self.taken.append(number)
        refused = self.rules.take(play, self.now)
        if refused is not None:
            self.outcomes.append(refused)
        return number

    def wait(self, seconds: float) -> None:
        """Every instant is kept on the dot."""
        end = self.now + ns(seconds)[0]
        while (instant := self.rules.next_instant()) is not None and instant <= end:
            self.now = max(self.now, instant)
            self.happened(*self.rules.advance(self.now))
        self.now = end

    def sleep(self, seconds: float) -> None:
        """The hand is stopped, and does what is due only afterwards."""
        self.now += ns(seconds)[0]
        self.happened(*self.rules.advance(self.now))

    def happened(self, switches: list[Switch], outcomes: list[Outcome]) -> None:
        for switch in switches:
            key = (switch.circuit, switch.relay)
            assert (key in self.closed) != switch.closed, "a relay changes, or is left alone"
            if switch.closed:
                others = [its for its in self.closed if its[0] == switch.circuit]
                assert not others, "never both relays of a line"
                self.closed[key] = self.now
            else:
                self.closings.append(Closed(*key, self.closed.pop(key), self.now))
        self.outcomes += outcomes
        assert {(its.circuit, its.relay) for its in self.rules.closed()} == set(self.closed)

    def cancel(self, play: int, *, stop: bool = False) -> None:
        self.happened(*self.rules.cancel(Cancel(play, stop), self.now))

    def amend(self, play: int, *edges: float) -> bool:
        word = self.rules.amend(Amend(play, ns(*edges)), self.now)
        assert word.play == play
        return word.accepted

    def spans(self, circuit: str) -> list[tuple[float, float]]:
        """(from, until) in seconds from the start."""
        return [
            ((its.since - START) / SECOND, (its.until - START) / SECOND)
            for its in self.closings
            if its.circuit == circuit
        ]

    def word(self, play: int) -> Outcome | None:
        return next((outcome for outcome in self.outcomes if outcome.play == play), None)
