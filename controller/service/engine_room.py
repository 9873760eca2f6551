"""The thread that owns the engine: inputs in from one bounded queue, decisions out.

Once a second, whatever comes, it beats: the hand hears that the engine is alive, the system's clock
is held against the monotonic one, what is due is looked at even where nobody wakes it for that, and
systemd's watchdog is fed.
"""

from __future__ import annotations

import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from controller.circuits.wire import ToHand
from controller.engine.contract import (
    Amend,
    Amended,
    Answer,
    Cancel,
    Decision,
    HandLost,
    Input,
    NewBuilding,
    Now,
    Outcome,
    Play,
    Stored,
    Tick,
)
from controller.engine.records import Record
from controller.engine.state import State
from controller.engine.step import step

if TYPE_CHECKING:
    from controller.building.model import Building

BEAT_NS = 1_000_000_000
MOST_INPUTS = 10_000
STEPPED_NS = 20_000_000  # further off between two beats, the clock was stepped or slewed hard
_LEAST_SLEEP_NS = 1_000_000
_FULL_SECONDS = 0.05


class Around(Protocol):
    """What the engine's thread needs of the daemon around it."""

    def tell_hand(self, message: ToHand) -> bool: ...
    def commit(self, batch: int, records: tuple[Record, ...]) -> None: ...
    def wake_at(self, utc: int) -> None: ...
    def vouched(self) -> bool: ...
    def answered(self, answer: Answer) -> None: ...
    def decided(self, decision: Decision) -> None: ...
    def beat(self, state: State, *, well: bool) -> None: ...


class EngineRoom:
    def __init__(self, building: Building, state: State, around: Around) -> None:
        self.building = building
        self.state = state
        self._around = around
        self._inputs: queue.SimpleQueue[Input | None] = queue.SimpleQueue()
        self._own: deque[Input] = deque()  # what this thread tells itself, past the queue
        self._held: dict[int, Decision] = {}  # decisions whose batch is being stored
        self._beaten = 0
        self._look_at: int | None = None  # mono; when something is due next
        self._ahead = 0  # utc − mono at the last look
        self._well = False  # what the health relay stands for
        self._trusted = False
        self._thread: threading.Thread | None = None

    def put(self, given: Input) -> None:
        """Give the engine an input, or wait while it has too many; from any thread."""
        while not self.offer(given):
            time.sleep(_FULL_SECONDS)

    def offer(self, given: Input) -> bool:
        """Give it an input without waiting; False where it has too many already."""
        if self._inputs.qsize() >= MOST_INPUTS:  # or a few more, where threads come at once
            return False
        self._inputs.put(given)
        return True

    def start(self, failed: Callable[[BaseException], None]) -> None:
        """Run until `end`; `failed` hears of what nobody foresaw."""

        def running() -> None:
            try:
                self._run()
            except BaseException as fault:
                failed(fault)

        self._thread = threading.Thread(target=running, name="engine", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        """Whether the engine's thread runs."""
        return self._thread is not None and self._thread.is_alive()

    def end(self, seconds: float) -> None:
        """Take what has been put in so far, then stop."""
        self._inputs.put(None)
        if self._thread is not None:
            self._thread.join(seconds)

    def _run(self) -> None:
        self._look_at_clock()
        self._take(Tick())
        while True:
            try:
                given = self._inputs.get(timeout=BEAT_NS / 1e9)
                if given is None:
                    return
            except queue.Empty:
                given = None
            if time.monotonic_ns() - self._beaten >= BEAT_NS:
                self._beat()
            if given is not None:
                self._take(given)

    def _beat(self) -> None:
        self._beaten = time.monotonic_ns()
        if self._look_at_clock() or (self._look_at is not None and self._beaten >= self._look_at):
            self._take(Tick())
        self._around.beat(self.state, well=self._well)

    def _look_at_clock(self) -> bool:
        """Whether the clock was stepped, or is trusted otherwise, since the last look."""
        ahead = time.time_ns() - time.monotonic_ns()
        trusted = self._around.vouched()
        changed = abs(ahead - self._ahead) > STEPPED_NS or trusted != self._trusted
        self._ahead, self._trusted = ahead, trusted
        return changed

    def _now(self) -> Now:
        return Now(time.time_ns(), time.monotonic_ns(), self.state.boot, self._trusted)

    def _take(self, given: Input) -> None:
        self._step(given)
        while self._own:
            self._step(self._own.popleft())

    def _step(self, given: Input) -> None:
        if isinstance(given, Stored):
            self._release(given.batch)
        now = self._now()
        self.state, decision = step(self.building, self.state, now, given)
        if isinstance(given, NewBuilding):
            self.building = given.building
        if isinstance(given, HandLost):
            self._forget_held()
        for cancel in decision.cancels:
            self._cancel(cancel)
        self._send(decision.at_once)
        for amend in decision.amends:
            self._amend(amend)
        for answer in decision.answers_at_once:
            self._around.answered(answer)
        if decision.batch:
            self._held[decision.batch] = decision
            self._around.commit(decision.batch, decision.records)
        else:  # nothing to wait for
            for answer in decision.answers:
                self._around.answered(answer)
        self._wake(now, decision)
        self._around.decided(decision)
        if decision.well != self._well:  # the health relay falls at once
            self._well = decision.well
            self._around.beat(self.state, well=decision.well)

    def _release(self, batch: int) -> None:
        """The one place where what waited for the store goes on: it is stored, or could not be."""
        decision = self._held.pop(batch, None)
        if decision is None:  # it was given up, and is stored after all
            return
        self._send(decision.plays)
        for answer in decision.answers:
            self._around.answered(answer)

    def _send(self, plays: tuple[Play, ...]) -> None:
        for play in plays:
            if play.hand == self.state.hand:
                self._around.tell_hand(play)

    def _cancel(self, cancel: Cancel) -> None:
        """Take a play back: from the hand, or from among those that wait for the store."""
        for batch, decision in self._held.items():
            kept = tuple(play for play in decision.plays if play.id != cancel.play)
            if len(kept) < len(decision.plays):
                self._held[batch] = decision._replace(plays=kept)
                now = time.monotonic_ns()
                self._own.append(Outcome(cancel.play, "never_began", now, now))
                return
        self._around.tell_hand(cancel)

    def _amend(self, amend: Amend) -> None:
        """Change a play: at the hand, or where it still waits for the store."""
        for batch, decision in self._held.items():
            changed = tuple(
                play._replace(edges=amend.edges) if play.id == amend.play else play
                for play in decision.plays
            )
            if changed != decision.plays:
                self._held[batch] = decision._replace(plays=changed)
                self._own.append(Amended(amend.play, True))
                return
        self._around.tell_hand(amend)

    def _forget_held(self) -> None:
        """Plays of a hand that is gone reach no other."""
        for batch, decision in self._held.items():
            self._held[batch] = decision._replace(plays=())

    def _wake(self, now: Now, decision: Decision) -> None:
        looks = []
        if decision.look_again_utc is not None:
            looks.append(decision.look_again_utc - now.utc + now.mono)
        if decision.look_again_mono is not None:
            looks.append(decision.look_again_mono)
        self._look_at = min(looks, default=None)
        if self._look_at is not None:
            asleep = max(self._look_at - now.mono, _LEAST_SLEEP_NS)
            self._around.wake_at(now.utc + asleep)
