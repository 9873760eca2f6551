"""What other threads tell the socket's thread, which it wakes up for."""

from __future__ import annotations

import contextlib
import os
import threading
from typing import Generic, TypeVar

Message = TypeVar("Message")


class Inbox(Generic[Message]):
    """Telling costs little, and never waits."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._bell = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._rung = False
        self._closed = False
        self._changed = False
        self._followed = False  # whether anybody might want to know of a change
        self._messages: list[Message] = []

    def fileno(self) -> int:
        """For select: readable when something was told since `take`."""
        return self._bell

    def ring(self) -> None:
        """Wake the thread."""
        with self._lock:
            self._wake()

    def changed(self) -> None:
        """The state is otherwise. Said more than once, it counts once."""
        with self._lock:
            self._changed = True
            if self._followed:
                self._wake()

    def put(self, message: Message) -> bool:
        """Tell something; False where nobody takes it any more."""
        with self._lock:
            if self._closed:
                return False
            self._messages.append(message)
            self._wake()
            return True

    def take(self, *, followed: bool) -> tuple[list[Message], bool]:
        """All that was told, in order, and whether the state has changed.

        Unless it is `followed`, a change from now on is only kept for the next time.
        """
        with self._lock:
            self._followed = followed
            if self._rung:
                os.eventfd_read(self._bell)
            messages, changed = self._messages, self._changed
            self._messages, self._changed, self._rung = [], False, False
        return messages, changed

    def close(self) -> list[Message]:
        """Take nothing more; what nobody took."""
        with self._lock:
            if not self._closed:
                self._closed = True
                with contextlib.suppress(OSError):
                    os.close(self._bell)
            messages, self._messages = self._messages, []
        return messages

    def _wake(self) -> None:
        if not (self._rung or self._closed):
            self._rung = True
            os.eventfd_write(self._bell, 1)
