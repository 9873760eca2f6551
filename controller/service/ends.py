"""What ends a daemon, or has it read its file again: said by any thread or signal, heard by one."""

from __future__ import annotations

import contextlib
import os
import queue
import select
import signal

MOST_BYTES = 4096


class Ends:
    """Words in the order in which they were said.

    A signal that comes just before the main thread begins to wait for a lock does not wake it: its
    handler would run at the next signal, if ever. So what is waited for is a pipe, into which the
    interpreter itself writes at a signal.
    """

    def __init__(self) -> None:
        self._words: queue.SimpleQueue[str] = queue.SimpleQueue()  # whose `put` a handler may call
        self._heard, self._told = os.pipe2(os.O_NONBLOCK | os.O_CLOEXEC)

    def hear_signals(self) -> None:
        """From now on a signal ends the waiting, so that its handler is run. By the main thread."""
        signal.set_wakeup_fd(self._told, warn_on_full_buffer=False)

    def put(self, word: str) -> None:
        """Say something; also from the handler of a signal. Never waits."""
        self._words.put(word)
        with contextlib.suppress(BlockingIOError):  # full of earlier ones, which wake it as well
            os.write(self._told, b"\0")

    def get(self) -> str:
        """The next word; waits for it."""
        while True:
            with contextlib.suppress(queue.Empty):
                return self._words.get_nowait()
            select.select([self._heard], [], [])
            with contextlib.suppress(BlockingIOError):
                os.read(self._heard, MOST_BYTES)
