"""The thin loop between a script and the world: one hand, one person, one queue of their words.

Everything that waits, waits in `_word`, which beats for the hand meanwhile. So a bench that hangs
has its relays opened by the hand within 3 s, and one that ends in any way at once.
"""

from __future__ import annotations

import contextlib
import itertools
import queue
import time
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple, Protocol

from controller.bench.operation import LEAD_NS, Ears, Gathering, Operation, Wanted, play_of
from controller.bench.pace import may_start
from controller.bench.steps import (
    Announce,
    Ask,
    Health,
    Note,
    Operate,
    Pause,
    Say,
    Script,
    Seen,
    Watch,
)
from controller.building.durations import MILLISECOND, MINUTE, SECOND
from controller.building.wiring import Wiring
from controller.circuits.hand_link import HandLink
from controller.circuits.wire import FromHand, HandFault, Switched
from controller.timetable.contact import Closing

BEAT_NS = SECOND
_LOOK_NS = 100 * MILLISECOND  # between two looks at the inputs that are shown
_YES_OR_NO = (("y", "yes"), ("n", "no"))
_HEALTH_WORDS = "Before that the health relay closes; it opens again when the bench ends."
_ENOUGH = 2  # moves: there and back


class Typed(NamedTuple):
    """What the person typed; None where no more can come."""

    line: str | None


class End(NamedTuple):
    """Everything is to end: why, in words."""

    why: str


class HandGone(NamedTuple):
    """The hand has ended."""


Word = FromHand | Typed | End | HandGone
Words = queue.SimpleQueue[Word]  # whose `put` a signal's handler may call


class Stopped(Exception):
    """The bench ends before its tests have; says why."""


class Person(Protocol):
    """Whoever stands at the bench, or nobody."""

    attended: bool  # whether questions are answered
    asked_first: bool  # whether tests wait for a yes

    def announce(self, step: Announce) -> None: ...
    def say(self, text: str) -> None: ...
    def ask(self, question: str, answers: Sequence[tuple[str, str]]) -> None: ...
    def listen(self) -> None: ...
    def note(self, step: Note) -> None: ...
    def show(self, seen: Sequence[Seen], seconds_left: float) -> None: ...
    def show_no_more(self) -> None: ...


class Conductor:
    """Carries scripts out."""

    def __init__(
        self,
        link: HandLink,
        wiring: Wiring,
        words: Words,
        person: Person,
        moves: Callable[[str], None],
    ) -> None:
        """`moves` hears of each line before it is moved. The hand's words come through `words`."""
        self._link = link
        self._circuits = {circuit.name: circuit for circuit in wiring.circuits}
        self._panel = wiring.panel
        self._words = words
        self._person = person
        self._moves = moves
        self._numbers = itertools.count(1)
        self._ears = Ears(link.ready.panel, link.ready.supply)
        self._health = wiring.health is not None
        self._supply_sensed = wiring.supply_sense is not None
        self._given: dict[str, list[Closing]] = {}  # closings of the last minute, by circuit
        self._closed_at: dict[str, int] = {}
        self._well = False
        self._beat_at = 0
        self._last_words = "the hand has ended"

    def conduct(self, script: Script) -> Iterator[Note]:
        """Carry a script out; its results as they come. Raises `Stopped` or `StoreFault`."""
        answer: object = None
        while True:
            try:
                step = script.send(answer)
            except StopIteration:
                return
            answer = None
            match step:
                case Announce():
                    answer = self._announce(step)
                case Say(text):
                    self._person.say(text)
                case Ask(question, answers):
                    answer = self._ask(question, answers)
                case Operate(wanted):
                    answer = self._operate(wanted)
                case Health(well):
                    self._well, self._beat_at = well, 0
                case Pause(length):
                    self._wait(length)
                case Watch(length):
                    answer = self._watch(length)
                case Note():
                    self._person.note(step)
                    yield step

    def closed_lately(self, now: int) -> dict[str, tuple[Closing, ...]]:
        """Circuit by circuit, when its relays were closed in the minute before `now` (mono).

        For when the hand has ended: what it said last is heard out, and what it never said to have
        opened counts as closed until `now`.
        """
        with contextlib.suppress(queue.Empty):
            while True:
                word = self._words.get_nowait()
                if isinstance(word, Switched):
                    self._take(word)
        still = {name: [(since, now)] for name, since in self._closed_at.items()}
        found = {
            name: tuple(
                one
                for one in (*self._given.get(name, ()), *still.get(name, ()))
                if one[1] > now - MINUTE
            )
            for name in self._circuits
        }
        return {name: closings for name, closings in found.items() if closings}

    # ── the hand ─────────────────────────────────────────────────────────────────────────────────

    def _operate(self, wanted: Sequence[Wanted]) -> tuple[Operation, ...]:
        for name in dict.fromkeys(one.circuit for one in wanted):
            if self._circuits[name].kind == "line":
                self._moves(name.removeprefix("lines."))
        now = time.monotonic_ns()
        gathered = [self._gathering(one, now) for one in wanted]
        for one in gathered:
            self._link.tell(one.play)
        while time.monotonic_ns() < (until := max(g.settled_at(self._ears) for g in gathered)):
            word = self._word(until)
            if word is not None and not isinstance(word, Typed | End | HandGone):
                for one in gathered:
                    one.hear(word, self._ears)
        return tuple(one.operation(self._ears) for one in gathered)

    def _gathering(self, wanted: Wanted, now: int) -> Gathering:
        circuit = self._circuits[wanted.circuit]
        at = max(wanted.at, now + LEAD_NS)
        if circuit.a_minute_ns:
            given = self._given.get(circuit.name, ())
            at = may_start(given, at, wanted.length_ns, circuit.a_minute_ns)
        shifted = wanted._replace(at=at)
        play = play_of(shifted, next(self._numbers), self._link.name, circuit, now)
        return Gathering(wanted, play, circuit, self._panel)

    def _word(self, until: int) -> Word | None:
        """The next word, where one comes by `until` (mono). Raises `Stopped`."""
        while True:
            now = time.monotonic_ns()
            if now >= self._beat_at:
                self._beat(now)
            try:
                wait = max(0, min(until, self._beat_at) - now) / SECOND
                word = self._words.get(timeout=wait)
            except queue.Empty:
                if time.monotonic_ns() >= until:
                    return None
                continue
            self._take(word)
            return word

    def _beat(self, now: int) -> None:
        self._link.beat(self._well)
        if self._link.hangs:
            self._last_words = "the hand did not answer, and was ended"
            self._link.kill()
        self._beat_at = now + BEAT_NS

    def _take(self, word: Word) -> None:
        match word:
            case End(why):
                raise Stopped(why)
            case HandGone():
                raise Stopped(self._last_words)
            case HandFault(says):
                self._last_words = says
            case Switched(circuit, _, True, mono):
                self._closed_at[circuit] = mono
            case Switched(circuit, _, False, mono):
                kept = [one for one in self._given.get(circuit, ()) if one[1] > mono - MINUTE]
                self._given[circuit] = [*kept, (self._closed_at.pop(circuit, mono), mono)]
            case Typed():
                pass
            case _:
                self._ears.hear(word)

    def _wait(self, length_ns: int) -> None:
        until = time.monotonic_ns() + length_ns
        while self._word(until) is not None:
            pass

    # ── the person ───────────────────────────────────────────────────────────────────────────────

    def _announce(self, step: Announce) -> bool:
        if self._health and not self._well:
            step = step._replace(moves=f"{step.moves} {_HEALTH_WORDS}")
        self._person.announce(step)
        if self._person.asked_first and self._ask("Begin?", _YES_OR_NO) == "n":
            return False
        self._well, self._beat_at = True, 0
        return True

    def _ask(self, question: str, answers: Sequence[tuple[str, str]]) -> str | None:
        if not self._person.attended:
            return None
        letters = [letter for letter, _ in answers]
        while True:
            self._person.ask(question, answers)
            line = self._typed()
            answer = line.strip().lower()[:1]
            if answer in letters:
                return answer
            self._person.say("Not understood: type one of the letters, then Enter.")

    def _typed(self) -> str:
        self._person.listen()
        while True:
            word = self._word(time.monotonic_ns() + MINUTE)
            if isinstance(word, Typed):
                if word.line is None:
                    raise Stopped("nobody answers (--unattended asks nothing)")
                return word.line

    def _watch(self, length_ns: int) -> tuple[Seen, ...]:
        """Inputs, for so long, until all have moved, or until somebody presses Enter."""
        first = self._inputs()
        seen = {name: Seen(name, closed, closed, 0) for name, closed in first.items()}
        until = time.monotonic_ns() + length_ns
        if self._person.attended:
            self._person.listen()
        try:
            while (left := until - time.monotonic_ns()) > 0:
                self._person.show(tuple(seen.values()), left / SECOND)
                if all(one.moves >= _ENOUGH for one in seen.values()):
                    break
                word = self._word(min(until, time.monotonic_ns() + _LOOK_NS))
                if isinstance(word, Typed):
                    break
                for name, closed in self._inputs().items():
                    if closed != seen[name].closed:
                        moves = seen[name].moves + 1
                        seen[name] = seen[name]._replace(closed=closed, moves=moves)
        finally:
            self._person.show_no_more()
        return tuple(seen.values())

    def _inputs(self) -> dict[str, bool]:
        supply = {"supply": self._ears.supply} if self._supply_sensed else {}
        return {**self._ears.panel, **supply}
