"""The store's own thread: batches in, the store's word out, in order; in between it is asked.

Commits go first. Whatever else is wanted of the store waits until none of them waits, and is done
in parts, so that a commit never waits for more than one part: one page of the logbook, a few pages
of a copy, a few rows that are let go.

A batch that takes too long counts as not stored (`backlog.py`); it is stored when it can be.
"""

from __future__ import annotations

import itertools
import queue
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from controller.engine.records import Record
from controller.journal import keeping
from controller.journal.faults import RecordRefused, StoreDamaged, StoreFault, StoreHeld
from controller.journal.logbook import LogbookEntry
from controller.journal.mirror import Mirror
from controller.journal.schema import set_aside
from controller.journal.shut import ShutStore, read_anyway
from controller.journal.store import Store
from controller.service.backlog import Backlog

MOST_UNSTORED = 100_000  # records kept while storing fails; the newest of each key are enough
MOST_WAITING = 10_000
MOST_ASKED = 16  # at once, by all other threads
ANSWER_SECONDS = 10.0
COPY_SECONDS = 600.0
REOPEN_SECONDS = 10.0  # between two tries at a store that could not be opened
_OPEN_SECONDS = 60.0
_FIRST, _BETWEEN = 0, 1


class Batch(NamedTuple):
    number: int
    records: tuple[Record, ...]


class Prune(NamedTuple):
    before_utc: int


class Asked:
    """Something that another thread wants of the store, and its answer."""

    def __init__(self, do: Callable[[AnyStore], Any]) -> None:
        self.do = do
        self.answer: Future[Any] = Future()
        self.moved = threading.Event()  # a part of it was done
        self.given_up = threading.Event()  # nobody waits for it any more


AnyStore = Store | ShutStore
Work = Batch | Prune | Asked | None  # None: the end


class JournalThread:
    """Opens the store, keeps it, and answers each batch with whether it is stored."""

    def __init__(
        self,
        path: Path,
        mirror: Mirror,
        stored: Callable[[int, bool], None],
        say: Callable[[str], None],
    ) -> None:
        """`stored` hears of each batch, and again where one was stored after all."""
        self._path = path
        self._folder = mirror.path.parent
        self._stored = stored
        self._say = say
        self._backlog = Backlog(mirror, say)
        self._work: queue.PriorityQueue[tuple[int, int, Work]] = queue.PriorityQueue(MOST_WAITING)
        self._numbers = itertools.count()  # among equals, who came first
        self._asked = threading.BoundedSemaphore(MOST_ASKED)
        self._one_copy = threading.Lock()
        self._kept: list[Record] = []
        self._open_at: float | None = None  # when a store that was shut is tried again
        self._failing = False
        self._ending = False  # the end was read from the queue
        self._ended = False  # nothing is read from it any more
        self._loaded: queue.Queue[list[Record] | StoreFault] = queue.Queue(maxsize=1)
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    # ── from other threads ───────────────────────────────────────────────────────────────────

    def load(self) -> list[Record]:
        """What the store holds, and what was not stored before a restart.

        Where the store cannot be opened it is what can be read nevertheless, and storing fails,
        aloud. Raise `StoreHeld` where another program has it open.
        """
        try:
            loaded = self._loaded.get(timeout=_OPEN_SECONDS)
        except queue.Empty:
            raise self._no_answer(_OPEN_SECONDS) from None
        if isinstance(loaded, StoreFault):
            raise loaded
        return loaded

    def commit(self, number: int, records: tuple[Record, ...]) -> None:
        """Store a batch; the word on it comes through `stored`. Never waits."""
        if self._backlog.add(number, records):
            self._put(_FIRST, Batch(number, records))
        else:
            self._stored(number, False)

    def look(self) -> None:
        """Once a second, from whoever waits: a batch that takes too long counts as not stored."""
        given_up = self._backlog.give_up()
        if given_up:
            self._say(
                "The store does not answer: its disk is slow, or fails. Bells and dials go on."
            )
        for number in given_up:
            self._stored(number, False)

    def hung(self) -> bool:
        """Whether a commit has taken so long that it is not to be waited for."""
        return self._backlog.hung()

    def prune(self, before_utc: int) -> None:
        """Let go of what is older."""
        self._put(_BETWEEN, Prune(before_utc))

    def read_logbook(self, since_utc: int, until_utc: int, limit: int) -> list[LogbookEntry]:
        """The newest `limit` entries in [since_utc, until_utc) (ns), in time order; see
        `logbook.read`. Raises `StoreFault`.
        """
        entries: list[LogbookEntry] = self._ask(
            Asked(lambda store: store.logbook(since_utc, until_utc, limit))
        )
        return entries

    def copy_to(self, path: Path) -> None:
        """Put a copy of the store into a new file, checked and flushed. Raises `StoreFault`, and
        leaves nothing at `path` then.
        """
        if not self._one_copy.acquire(blocking=False):
            raise StoreFault(f"{path}: another copy is being made; try again when it is done")
        part = keeping.part_of(path)
        try:
            keeping.refuse_taken(path)
            self._ask(self._copy(part))
            keeping.seal(part, path)  # here, so that no commit waits for it
        finally:
            with suppress(OSError):
                keeping.remove(part)
            self._one_copy.release()

    def close(self, seconds: float) -> None:
        """Store what is waiting, then close. What is asked from here on is refused."""
        self._put(_FIRST, None)
        self._thread.join(seconds)

    def _put(self, order: int, work: Work, timeout: float | None = None) -> None:
        self._work.put((order, next(self._numbers), work), timeout=timeout)

    def _ask(self, asked: Asked) -> Any:
        """Have it done between commits, and wait for it for as long as it moves on."""
        if not self._asked.acquire(blocking=False):
            raise StoreFault(f"{self._path}: too much is asked of the store at once; try again")
        try:
            self._put(_BETWEEN, asked, ANSWER_SECONDS)
        except queue.Full:
            self._asked.release()
            raise self._no_answer(ANSWER_SECONDS) from None
        if self._ended:
            self._refuse_all()
        while True:
            try:
                return asked.answer.result(ANSWER_SECONDS)
            except TimeoutError:
                if not asked.moved.is_set():
                    asked.given_up.set()
                    raise self._no_answer(ANSWER_SECONDS) from None
                asked.moved.clear()

    def _copy(self, part: Path) -> Asked:
        """The asking for a copy: whatever waits is done between the steps of its drawing."""
        until = time.monotonic() + COPY_SECONDS

        def draw(store: AnyStore) -> None:
            def between() -> None:
                asked.moved.set()
                if asked.given_up.is_set() or time.monotonic() > until:
                    raise self._no_answer(COPY_SECONDS)
                self._do_what_waits(store)

            store.draw(part, between)

        asked = Asked(draw)
        return asked

    def _no_answer(self, seconds: float) -> StoreFault:
        return StoreFault(
            f"{self._path}: the store did not answer within {seconds:g} s: its disk is slow, or "
            "fails; try again, and look at the system's log"
        )

    # ── on the journal's own ─────────────────────────────────────────────────────────────────

    def _run(self) -> None:
        try:
            self._kept = self._backlog.from_mirror()
            store, records = self._open_or_do_without()
        except Exception as fault:
            self._loaded.put(self._in_words(fault))
        else:
            self._loaded.put([*records, *self._kept])
            del records  # thousands, which would be kept in mind as long as this thread runs
            while not self._ending:
                work = self._work.get()[-1]
                store = self._opened_again(store)
                self._do(store, work)
            store.close()
        finally:
            self._ended = True
            self._refuse_all()

    def _open_or_do_without(self) -> tuple[AnyStore, list[Record]]:
        try:
            return self._open()
        except StoreHeld:
            raise
        except StoreFault as fault:
            self._say(f"{fault}. Bells and dials go on; nothing is stored.")
            self._failing = True
            try:
                records = read_anyway(self._path, self._folder)
                self._open_at = time.monotonic() + REOPEN_SECONDS
            except StoreFault as worse:  # its numbers are not known, so it is not written to
                self._say(f"{worse}. It is left as it is; the dials have to be read.")
                records = []
            return ShutStore(fault), records

    def _opened_again(self, store: AnyStore) -> AnyStore:
        """A store that could be read and not be opened is tried again now and then."""
        if self._open_at is None or time.monotonic() < self._open_at:
            return store
        self._open_at = time.monotonic() + REOPEN_SECONDS
        try:
            store = Store(self._path)
        except StoreFault:
            return store
        self._open_at = None
        return store

    def _open(self) -> tuple[Store, list[Record]]:
        """The store and what it holds; a new one in the place of one that cannot be read."""
        try:
            return _loaded(self._path)
        except StoreDamaged as fault:
            aside = set_aside(self._path)
            self._say(f"{fault} It is set aside as {aside}; a new store is begun.")
            return _loaded(self._path)

    def _do(self, store: AnyStore, work: Work) -> None:
        match work:
            case Batch():
                self._batch(store, work)
                self._fold(store)
            case Prune():
                self._prune(store, work)
            case Asked():
                self._answer(store, work)
            case None:
                self._ending = True

    def _do_what_waits(self, store: AnyStore) -> None:
        """What came while a copy is being drawn. Raises `StoreFault` where that is the end."""
        for _ in range(self._work.qsize()):
            with suppress(queue.Empty):
                self._do(store, self._work.get_nowait()[-1])
            if self._ending:
                raise self._closed()

    def _batch(self, store: AnyStore, batch: Batch) -> None:
        ok = self._commit(store, batch.records)
        later = self._backlog.answered(batch.number, self._kept)
        self._stored(batch.number, ok)
        if later:
            self._commit(store, later)
        self._backlog.tidy(self._kept)

    def _commit(self, store: AnyStore, records: Sequence[Record]) -> bool:
        records = [*self._kept, *records]
        try:
            store.commit(records)
        except Exception as fault:  # whatever it is: an answer there must be
            self._kept = self._to_keep(store, records, fault)
            if not self._failing:
                self._say(f"Not stored: {self._in_words(fault)} Bells and dials go on.")
            self._failing = True
            return False
        if self._failing:
            self._say("Storing goes on again; what was decided meanwhile is stored too.")
        self._kept, self._failing = [], False
        return True

    def _to_keep(
        self, store: AnyStore, records: Sequence[Record], fault: Exception
    ) -> list[Record]:
        """What is tried again with the next batch: not what would be refused for ever."""
        if isinstance(fault, RecordRefused) or not isinstance(fault, StoreFault):
            with suppress(StoreFault):
                records = store.fitting(records)
        newest = {record.key: record for record in records}
        return list(newest.values())[-MOST_UNSTORED:]

    def _fold(self, store: AnyStore) -> None:
        try:
            store.fold()
        except StoreFault as fault:
            self._say(f"The store could not be tidied: {fault}")

    def _prune(self, store: AnyStore, work: Prune) -> None:
        """Let go of some of it, and of the rest later; what waits is done before."""
        try:
            if store.prune(work.before_utc):
                store.fold()
                self._work.put_nowait((_BETWEEN, next(self._numbers), work))
        except StoreFault as fault:
            self._say(f"The logbook could not be pruned: {fault}")
        except queue.Full:
            self._say("The logbook is not pruned to the end: the store is behind with its work.")

    def _answer(self, store: AnyStore, asked: Asked) -> None:
        self._asked.release()
        if asked.given_up.is_set():
            return
        try:
            asked.answer.set_result(asked.do(store))
        except BaseException as fault:  # it is the asker's, and never ends this thread
            asked.answer.set_exception(self._in_words(fault))

    def _refuse_all(self) -> None:
        """Answer whoever still asks that the store is closed."""
        while True:
            try:
                *_, work = self._work.get_nowait()
            except queue.Empty:
                return
            if isinstance(work, Asked):
                self._asked.release()
                work.answer.set_exception(self._closed())

    def _closed(self) -> StoreFault:
        return StoreFault(f"{self._path}: the store is closed, or could not be opened")

    def _in_words(self, fault: BaseException) -> StoreFault:
        if isinstance(fault, StoreFault):
            return fault
        return StoreFault(f"{self._path}: {fault!r}: a fault of the program; report it")


def _loaded(path: Path) -> tuple[Store, list[Record]]:
    """An open store and what it holds. Raises `StoreFault`; it is closed then."""
    store = Store(path)
    try:
        return store, store.load()
    except StoreFault:
        store.close()
        raise
