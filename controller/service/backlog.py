"""What is decided and not yet stored: batches that wait for the store, and what came meanwhile.

    in time ──a batch waits longer than STALL_SECONDS──▶ stalled: every batch counts as not stored
       ▲                                                   at once, and is kept for later
       └──────── all that waited has been answered ◀───────┘

The mirror holds all of it for as long as something is stalled or failed, so that a mere restart is
exact even then (design rule 19).
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from typing import NamedTuple

from controller.engine.records import Record
from controller.journal.faults import StoreFault
from controller.journal.mirror import Mirror

STALL_SECONDS = 3.0
HUNG_SECONDS = 120.0  # so long a commit is no slow card any more


class Waiting(NamedTuple):
    """A batch that is not answered, and since when (seconds of the monotonic clock)."""

    since: float
    records: tuple[Record, ...]


class Backlog:
    """For the engine's thread, which adds and looks, and the journal's, which answers."""

    def __init__(self, mirror: Mirror, say: Callable[[str], None]) -> None:
        self._mirror = mirror
        self._say = say
        self._lock = threading.Lock()
        self._waiting: dict[int, Waiting] = {}
        self._later: dict[tuple[str, ...], Record] = {}  # decided while it is stalled
        self._stalled = False
        self._failed: Sequence[Record] = ()  # what the store has refused so far
        self._mirrored = False

    def from_mirror(self) -> list[Record]:
        """What a restart finds of this run of the machine: it goes with the first commit."""
        try:
            self._failed = self._mirror.read()
        except StoreFault as fault:
            self._say(str(fault))
        self._mirrored = bool(self._failed)
        return list(self._failed)

    def add(self, number: int, records: tuple[Record, ...]) -> bool:
        """A batch is decided: whether to wait for the store's word on it."""
        with self._lock:
            if not self._stalled:
                self._waiting[number] = Waiting(time.monotonic(), records)
                return True
            self._later |= {record.key: record for record in records}
            self._write_mirror()
            return False

    def give_up(self) -> list[int]:
        """The batches for which nobody waits any more, where the store takes too long."""
        with self._lock:
            if self._stalled or not self._waits_longer_than(STALL_SECONDS):
                return []
            self._stalled = True
            self._write_mirror()
            return list(self._waiting)

    def hung(self) -> bool:
        """Whether a commit has taken so long that it is not to be waited for."""
        with self._lock:
            return self._waits_longer_than(HUNG_SECONDS)

    def answered(self, number: int, failed: Sequence[Record]) -> tuple[Record, ...]:
        """The store has spoken of a batch, and `failed` is what it holds to try again: what is to
        be stored now, of what came while it was stalled.
        """
        later: tuple[Record, ...] = ()
        with self._lock:
            self._failed = failed
            self._waiting.pop(number, None)
            if self._stalled and not self._waiting:
                later, self._later, self._stalled = tuple(self._later.values()), {}, False
            if failed:
                self._write_mirror()
        return later

    def tidy(self, failed: Sequence[Record]) -> None:
        """Let go of the mirror where all is stored."""
        with self._lock:
            self._failed = failed
            if self._mirrored and not (failed or self._waiting or self._later):
                try:
                    self._mirror.clear()
                    self._mirrored = False
                except StoreFault as fault:
                    self._say(str(fault))

    def _waits_longer_than(self, seconds: float) -> bool:
        first = next(iter(self._waiting.values()), None)
        return first is not None and time.monotonic() - first.since > seconds

    def _write_mirror(self) -> None:
        """Hold the newest of each key, of all that is not stored."""
        unstored = {record.key: record for record in self._failed}
        for batch in self._waiting.values():
            unstored |= {record.key: record for record in batch.records}
        unstored |= self._later
        self._mirrored = True
        try:
            self._mirror.write(unstored.values())
        except StoreFault as fault:
            self._say(f"Not even kept for a restart: {fault}")
