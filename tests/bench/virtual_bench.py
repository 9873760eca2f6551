"""A bench on virtual time: scripts carried out on the hand's own rules, with modelled relays.

A contact follows its coil after pull-in and drop-out; it may be stuck, welded, slow or bouncing,
and wires may be exchanged between the coils of two relays. Its sense tells each edge at once.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from heapq import heappop, heappush

from controller.bench.operation import Ears, Gathering, play_of
from controller.bench.pace import may_start
from controller.bench.plan import Plan, plan_of
from controller.bench.steps import Announce, Ask, Note, Operate, Pause, Result, Say
from controller.building.file import building_of
from controller.building.sheets import Source
from controller.building.wiring import wiring_of
from controller.circuits.rules import HandRules, Switch
from controller.circuits.wire import Sensed, Switched

MS = 1_000_000
SECOND = 1_000 * MS
MINUTE = 60 * SECOND

HOUSE = """
[building]
name = "Thistle House"
timezone = "America/Halifax"
[zones.north]
title = "North wing"
relay = 17
sense = 24
[zones.south]
relay = 27
longest = "300ms"
a_minute = "1s"
[lines.main]
drive = "alternating"
relays = [22, 23]
sense = [10, 11]
impulse = "500ms"
gap = "200ms"
[lines.yard]
drive = "single"
relays = [13]
impulse = "300ms"
gap = "250ms"
"""
NORTH, SOUTH = ("zones.north", 0), ("zones.south", 0)
PLUS, MINUS = ("lines.main", 0), ("lines.main", 1)

Key = tuple[str, int]


@dataclass
class Model:
    """A relay: ns."""

    pull_in: int = 6 * MS
    drop_out: int = 4 * MS
    stuck: bool = False
    welded: bool = False
    closing_bounces: tuple[int, ...] = ()  # after it moved: when it goes back, forth, back, forth …
    opening_bounces: tuple[int, ...] = ()
    turn: int = 0


def plan(*only: str, text: str = HOUSE, **more) -> Plan:
    building = building_of("house.toml", [Source("house.toml", text.encode())])
    usual = {"operations": 5, "endures": 20, "rate": None, "watch_ns": SECOND}
    return plan_of(building, only, **{**usual, **more})


class VirtualBench:
    """Carries one script out after another; `results` are the last words on each thing."""

    def __init__(
        self,
        models: Mapping[Key, Model] = {},  # it is read only
        crossed: tuple[Key, Key] | None = None,
        joined: tuple[Key, Key] | None = None,
        text: str = HOUSE,
    ) -> None:
        building = building_of("house.toml", [Source("house.toml", text.encode())])
        self.wiring = wiring_of(building)
        self.now = 5_000 * SECOND
        self.circuits = {one.name: one for one in self.wiring.circuits}
        self.rules = HandRules("bench", self.wiring.circuits, self.now - MINUTE)
        self.ears = Ears((), True)
        self.answers: list[str] = []  # what a person answers, in turn; nobody is there without
        self.said: list[str] = []
        self.closings: list[tuple[Key, int, int]] = []
        self.results: dict[tuple[str, str], Result] = {}
        self._numbers = itertools.count(1)
        self._order = itertools.count()
        self._gathered: list[Gathering] = []
        self._moves: list[tuple[int, int, Key, int, bool]] = []
        self._closed_at: dict[Key, int] = {}
        keys = [(c.name, n) for c in self.wiring.circuits for n in range(len(c.relays))]
        self.models = {key: models.get(key, Model()) for key in keys}
        self.works = {key: (key,) for key in keys}  # coil → relays that it works
        if crossed:
            self.works |= {crossed[0]: (crossed[1],), crossed[1]: (crossed[0],)}
        if joined:
            self.works[joined[0]] = joined
        self.contacts = {key: model.welded for key, model in self.models.items()}
        for key in keys:
            if self.circuits[key[0]].sense is not None:
                self._sense(key, self.contacts[key], self.now)
        self._wait(SECOND)

    def conduct(self, script) -> list[Result]:
        """Carry a script out; the last word on each thing, in order."""
        answer = None
        while True:
            try:
                step = script.send(answer)
            except StopIteration:
                return list(self.results.values())
            answer = None
            match step:
                case Announce():
                    self.said += step[1:]
                    answer = True
                case Say(text):
                    self.said.append(text)
                case Ask():
                    answer = self.answers.pop(0) if self.answers else None
                case Operate(wanted):
                    answer = self._operate(wanted)
                case Pause(length):
                    self._wait(length)
                case Note(result):
                    self.results[result.test, result.what] = result

    def _operate(self, wanted):
        self._gathered = []
        for one in wanted:
            circuit = self.circuits[one.circuit]
            at = max(one.at, self.now + 30 * MS)
            if circuit.a_minute_ns:
                given = [(a, b) for key, a, b in self.closings if key[0] == one.circuit]
                at = may_start(given, at, one.length_ns, circuit.a_minute_ns)
            play = play_of(one._replace(at=at), next(self._numbers), "bench", circuit, self.now)
            self._gathered.append(Gathering(one, play, circuit, ()))
            if refused := self.rules.take(play, self.now):
                self._hear(refused)
        while self.now < (until := max(g.settled_at(self.ears) for g in self._gathered)):
            self._turn(until)
        return tuple(one.operation(self.ears) for one in self._gathered)

    def _wait(self, length):
        until = self.now + length
        while self.now < until:
            self._turn(until)

    def _turn(self, until):
        """What is next, at its instant."""
        instants = [self.rules.next_instant(), self._moves[0][0] if self._moves else None, until]
        self.now = max(self.now, min(one for one in instants if one is not None))
        while self._moves and self._moves[0][0] <= self.now:
            at, _, key, turn, closed = heappop(self._moves)
            if turn == self.models[key].turn and self.contacts[key] != closed:
                self.contacts[key] = closed
                if self.circuits[key[0]].sense is not None:
                    self._sense(key, closed, at)
        switches, outcomes = self.rules.advance(self.now)
        for switch in switches:
            self._switch(switch)
        for word in (*outcomes, *self.rules.found()):
            self._hear(word)

    def _switch(self, switch: Switch) -> None:
        key = switch[:2]
        if switch.closed:
            others = [other for other in self._closed_at if other[0] == key[0]]
            assert not others, "never both relays of a line"
            self._closed_at[key] = self.now
        else:
            self.closings.append((key, self._closed_at.pop(key), self.now))
        self._hear(Switched(*switch, self.now))
        for worked in self.works[key]:
            self._follow(worked, switch.closed)

    def _follow(self, key: Key, closed: bool) -> None:
        model = self.models[key]
        model.turn += 1
        if (model.stuck if closed else model.welded) or self.contacts[key] == closed:
            return
        at = self.now + (model.pull_in if closed else model.drop_out)
        bounces = model.closing_bounces if closed else model.opening_bounces
        for count, after in enumerate((0, *bounces)):
            move = (at + after, next(self._order), key, model.turn, closed == (count % 2 == 0))
            heappush(self._moves, move)

    def _sense(self, key: Key, closed: bool, at: int) -> None:
        self.rules.sensed(*key, closed, at)
        self._hear(Sensed(*key, closed, at))

    def _hear(self, word) -> None:
        self.ears.hear(word)
        for one in self._gathered:
            one.hear(word, self.ears)
