"""The clerk: what takes a while (files, the logbook, a copy of the store) is done here, in order,
so that neither the engine's thread nor the socket's waits for a card."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

MOST_WAITING = 64
Work = Callable[[], None]


class Clerk:
    def __init__(self, failed: Callable[[BaseException], None]) -> None:
        """`failed` hears of what nobody foresaw; the clerk goes on."""
        self._failed = failed
        self._work: queue.Queue[Work | None] = queue.Queue(maxsize=MOST_WAITING)
        self._thread = threading.Thread(target=self._run, name="clerk", daemon=True)
        self._thread.start()

    def give(self, work: Work) -> bool:
        """Have it done; False, at once, where too much waits already."""
        try:
            self._work.put_nowait(work)
        except queue.Full:
            return False
        return True

    def close(self, seconds: float) -> None:
        """Do what waits, then end; after so many seconds nobody waits for it any more."""
        if self.give(lambda: None):
            self._work.put(None)
            self._thread.join(seconds)

    def _run(self) -> None:
        while (work := self._work.get()) is not None:
            try:
                work()
            except Exception as fault:
                self._failed(fault)
