"""The card, and the thread that writes to it, which is the controller's own (`real.py`).

A batch acknowledged outlasts a power cut; one under way may or may not; all others are lost. The
mirror in the runtime folder outlasts the daemon, and no power cut.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from simulator.real import Backlog, Batch, JournalThread
from simulator.words import FAR, MILLISECOND, SECOND, scattered

from controller.engine.records import Record
from controller.journal.faults import StoreFault

if TYPE_CHECKING:
    from simulator.world import World

WATCHED_NS = 500 * MILLISECOND  # a commit that takes longer is looked at once a second


class Memory:
    """The mirror, where the runtime folder is a dictionary."""

    def __init__(self) -> None:
        self.boot = ""
        self.held: list[Record] = []
        self.held_boot = ""

    def write(self, records: Iterable[Record]) -> None:
        self.held, self.held_boot = list(records), self.boot

    def read(self) -> list[Record]:
        return self.held if self.held_boot == self.boot else []

    def clear(self) -> None:
        self.held = []


class Disk:
    """What the store holds, and how quickly it takes more. To the controller it is a `Store`."""

    def __init__(self, seed: int) -> None:
        self.seed = seed
        self.rows: dict[tuple[str, ...], Record] = {}
        self.commits = 0
        self.full = False
        self.newer = False  # written by a newer version: it cannot be opened
        self.stalls_until = 0
        self.slow_ns = 0  # a commit takes so much longer
        self.memory = Memory()

    def takes(self, t: int) -> int:
        """How long the next commit takes: a card's few tens of milliseconds, sometimes more."""
        self.commits += 1
        usual = 4 * MILLISECOND + int(scattered(self.seed, self.commits) ** 4 * 90 * MILLISECOND)
        return max(0, self.stalls_until - t) + usual + self.slow_ns

    def commit(self, records: Iterable[Record]) -> None:
        """All of them, durably; or none, and `StoreFault`."""
        if self.full or self.newer:
            raise StoreFault("the disk is full")
        self.keep(tuple(records))

    def keep(self, records: Sequence[Record]) -> None:
        self.rows.update((record.key, record) for record in records)

    def fitting(self, records: Sequence[Record]) -> list[Record]:
        return list(records)

    def fold(self) -> None:
        """There is no log."""

    def mirror(self, boot: str):
        """The runtime folder's, in this run of the machine."""
        self.memory.boot = boot
        return self.memory

    def load(self) -> list[Record]:
        """What a daemon finds that starts."""
        return [] if self.newer else list(self.rows.values())

    def lose_power(self) -> None:
        """What was committed is there; what lay in memory is gone."""
        self.memory.held = []

    def damage(self) -> None:
        """The file is truncated: the next start sets it aside and begins a new one."""
        self.rows = {}

    def close(self) -> None:
        """Nobody needs it any more."""


class Journal(JournalThread):
    """The controller's thread without a thread: what it has to do is done when it is due."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.disk = world.disk
        self.queue: deque = deque()
        self.done = FAR  # outside: when the commit under way is over
        self.told: Callable[[int, bool], None] = lambda batch, ok: None
        self._watching = False
        self._backlog = Backlog(self.disk.mirror(world.clock.boot), self._said)
        self._stored = self._word
        self._say = self._said
        self._kept = self._backlog.from_mirror()
        self._failing = False
        self._open_at = None

    def _said(self, text: str) -> None:
        self.world.note("store", text)

    @property
    def kept(self) -> list[Record]:
        return list(self._kept)

    def _word(self, batch: int, ok: bool) -> None:
        if not ok:
            self.world.judge.told_not_stored(batch)
        self.told(batch, ok)

    def _put(self, order: int, work, timeout: float | None = None) -> None:
        self.queue.append(work)
        if len(self.queue) == 1:
            self._begin()

    def _begin(self) -> None:
        t = self.world.t
        takes = self.disk.takes(t)
        self.done = t + takes
        if takes > WATCHED_NS and not self._watching:
            self._watching = True
            self._watch()
        if self.world.moments.armed:
            self.world.moments.comes("commit under way", min(takes, SECOND))

    def _watch(self) -> None:
        """The daemon looks once a second whether a batch waits for too long."""
        daemon = self.world.daemon
        if self.world.journal is not self or daemon is None:
            return

        def beat() -> None:
            if self.world.journal is not self:
                return
            if not daemon.hung:
                self.look()
            if self.queue:
                self._watch()
            else:
                self._watching = False

        self.world.plan(daemon.next_beat(), beat)

    def finished(self) -> None:
        """The commit under way is over."""
        self.done = FAR
        self._batch(self.disk, self.queue[0])
        self.queue.popleft()
        self.world.judge.storing(well=not self.mirrors)
        if self.queue and self.done == FAR:
            self._begin()

    def _commit(self, store: Disk, records: Sequence[Record]) -> bool:
        whole = (*self._kept, *records)
        ok: bool = super()._commit(store, records)
        if ok:
            self.world.judge.durable(whole)
        return ok

    @property
    def mirrors(self) -> bool:
        return bool(self._kept) or self._backlog._stalled or self._backlog._mirrored

    def ends(self) -> None:
        """Daemon or power are gone. A commit under way may have been made."""
        if self.queue and scattered(self.disk.seed + 1, self.disk.commits) < 0.5:
            work = self.queue[0]
            if self.disk.stalls_until < self.world.t and isinstance(work, Batch):
                records = (*self._kept, *work.records)
                if not (self.disk.full or self.disk.newer):
                    self.disk.keep(records)
                    self.world.judge.durable(records)
        self.queue.clear()
        self.done = FAR
