"""Stores under test, closed and at work: what their thread did and said, and how it is halted."""

from __future__ import annotations

import threading
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

from journal_records import BOOT, DAY, MINUTE, MORNING, impulse, sounding, welded

from controller.engine.records import FollowRow, MissCount, MissRow, QuietRow, Record
from controller.journal.mirror import Mirror
from controller.journal.store import Store
from controller.service import journal_thread
from controller.service.journal_thread import JournalThread

PATIENT_SECONDS = 30.0
TOWED = impulse(3, "tower")._replace(held=True, target=7, doubtful=True)
KEPT = [  # by a backup and its restoring
    sounding(1),
    sounding(2, "begun", zone="south"),
    MissRow("south", "2026-11-25T08:30:00", MORNING, "supply"),
    MissCount(12, MORNING - DAY, MORNING - MINUTE, "off"),
    QuietRow("north", MORNING + 3 * DAY, "keeper"),
    FollowRow("2026-12-18", "none", "keeper"),
    welded(),
]


class Journal:
    """A store's thread under test, with what it did and said; it can be halted between commits."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.done: list[str] = []
        self.said: list[str] = []
        self._batches = 0
        self._told: dict[int, Future[bool]] = {}
        self._halted = threading.Event()
        self._go_on = threading.Event()
        self.mirror = Mirror(path.with_name("unstored.json"), BOOT)
        self.thread = JournalThread(path, self.mirror, self._stored, self.said.append)
        self.asking = ThreadPoolExecutor(24)

    def _stored(self, batch: int, ok: bool) -> None:
        self.done.append(f"commit {batch}")
        if not self._told[batch].done():  # one that was given up is stored after all
            self._told[batch].set_result(ok)

    def put(self, *records: Record) -> Future[bool]:
        """Have records stored; the future is the store's word."""
        self._batches += 1
        self._told[self._batches] = Future()
        self.thread.commit(self._batches, records)
        return self._told[self._batches]

    def store(self, *records: Record) -> bool:
        return self.put(*records).result(PATIENT_SECONDS)

    def halt(self) -> None:
        """Let the thread stand, as if a card took its time, until `go_on`."""
        self._go_on.clear()
        self._halted.clear()

        def standing(_: Store) -> None:
            self._halted.set()
            assert self._go_on.wait(PATIENT_SECONDS)

        self.asking.submit(self.thread._ask, journal_thread.Asked(standing))
        assert self._halted.wait(PATIENT_SECONDS)

    def go_on(self) -> None:
        self._go_on.set()

    def waiting(self, number: int) -> None:
        """Wait until so many pieces of work are before the thread."""
        give_up = threading.Event()
        for _ in range(3000):
            if self.thread._work.qsize() == number:
                return
            give_up.wait(0.01)
        raise AssertionError(f"{self.thread._work.qsize()} wait, not {number}")

    def end(self) -> None:
        self.go_on()
        self.thread.close(PATIENT_SECONDS)
        self.asking.shutdown()


def held_by(path: Path) -> set[Record]:
    """What a start would read from a store that is closed."""
    store = Store(path)
    records = set(store.load())
    store.close()
    return records


def kept_store(path: Path, *records: Record) -> Path:
    """A store that holds these records, closed."""
    store = Store(path)
    store.commit(records)
    store.close()
    return path
