"""The store's own thread: batches in, the store's word out, in order."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from controller.engine.contract import Record
from controller.journal.faults import StoreDamaged, StoreFault
from controller.journal.schema import set_aside
from controller.journal.store import Store

MOST_UNSTORED = 100_000  # records kept while storing fails; the newest of each key are enough
_OPEN_SECONDS = 60.0


class Batch(NamedTuple):
    number: int
    records: tuple[Record, ...]


class Prune(NamedTuple):
    before_utc: int


class JournalThread:
    """Opens the store, keeps it, and answers each batch with whether it is stored."""

    def __init__(
        self, path: Path, stored: Callable[[int, bool], None], say: Callable[[str], None]
    ) -> None:
        self._path = path
        self._stored = stored
        self._say = say
        self._work: queue.Queue[Batch | Prune | None] = queue.Queue(maxsize=10_000)
        self._kept: list[Record] = []
        self._failing = False
        self._loaded: queue.Queue[list[Record] | StoreFault] = queue.Queue(maxsize=1)
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    def load(self) -> list[Record]:
        """What the store holds. Raise `StoreFault` where it cannot be opened."""
        loaded = self._loaded.get(timeout=_OPEN_SECONDS)
        if isinstance(loaded, StoreFault):
            raise loaded
        return loaded

    def commit(self, number: int, records: tuple[Record, ...]) -> None:
        """Store a batch; the word on it comes through `stored`."""
        self._work.put(Batch(number, records))

    def prune(self, before_utc: int) -> None:
        """Let go of what is older."""
        self._work.put(Prune(before_utc))

    def close(self, seconds: float) -> None:
        """Store what is waiting, then close."""
        self._work.put(None)
        self._thread.join(seconds)

    def _run(self) -> None:
        try:
            store = self._open()
            self._loaded.put(store.load())
        except StoreFault as fault:
            self._loaded.put(fault)
            return
        while (work := self._work.get()) is not None:
            if isinstance(work, Prune):
                self._prune(store, work.before_utc)
            else:
                self._stored(work.number, self._commit(store, work.records))
                self._fold(store)
        store.close()

    def _open(self) -> Store:
        try:
            return Store(self._path)
        except StoreDamaged as fault:
            aside = set_aside(self._path)
            self._say(f"{fault} It is set aside as {aside}; a new store is begun.")
            return Store(self._path)

    def _commit(self, store: Store, records: Sequence[Record]) -> bool:
        records = [*self._kept, *records]
        try:
            store.commit(records)
        except StoreFault as fault:
            newest = {record.key: record for record in records}
            self._kept = list(newest.values())[-MOST_UNSTORED:]
            if not self._failing:
                self._say(f"Not stored: {fault} Bells and dials go on.")
            self._failing = True
            return False
        if self._failing:
            self._say("Storing goes on again; nothing that was decided meanwhile is lost.")
        self._kept, self._failing = [], False
        return True

    def _fold(self, store: Store) -> None:
        try:
            store.fold()
        except StoreFault as fault:
            self._say(f"The store could not be tidied: {fault}")

    def _prune(self, store: Store, before_utc: int) -> None:
        try:
            while store.prune(before_utc):
                store.fold()
        except StoreFault as fault:
            self._say(f"The logbook could not be pruned: {fault}")
