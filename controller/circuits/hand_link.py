"""The other end of a hand: started by exec, heard by a thread, told without waiting.

That the hand lives is felt by its pulse, an eventfd that it writes to at each turn: it is looked at
when the daemon beats, and wakes nobody.
"""

from __future__ import annotations

import io
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from controller.building.wiring import Wiring
from controller.circuits.lines import PinsFault
from controller.circuits.wire import (
    BEATS,
    MOST_BYTES,
    Begin,
    End,
    FromHand,
    HandFault,
    Ready,
    ToHand,
    packed,
    unpacked,
)

START_SECONDS = 10.0
SILENCE_SECONDS = 1.5  # each beat, once a second, has it turn at once
END_SECONDS = 2.0


class HandLink:
    """One hand from its start to its end. `ready` is its first word: what its inputs read then."""

    ready: Ready

    def __init__(self, name: str) -> None:
        """Start the hand. It holds nothing yet, and waits to be told: see `take`."""
        self.name = name
        self._listener: threading.Thread | None = None
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        pulse = os.eventfd(1, os.EFD_NONBLOCK | os.EFD_CLOEXEC)  # before a beat none is missed
        self._pulse = io.FileIO(pulse)  # as a file, it is not read once it is closed
        with theirs:
            given = theirs.fileno(), pulse
            self._process = subprocess.Popen(
                [sys.executable, "-m", "controller.circuits.hand", *map(str, given)],
                pass_fds=given,
                stdin=subprocess.DEVNULL,
            )
        self._link = ours
        # Held while link or pulse are used without waiting, and while they are closed: that may be
        # another thread's doing, and their numbers are somebody else's then.
        self._in_use = threading.Lock()
        self.pid = self._process.pid

    def take(
        self, wiring: Wiring, runtime: Path, board: Path | None, *, measures: bool = False
    ) -> None:
        """Have it take the pins, and wait until it holds them. Raise `PinsFault` where it cannot.

        One that `measures` tells of every edge of its senses, as `Sensed`.
        """
        self._link.settimeout(START_SECONDS)
        place = "" if board is None else str(board)
        self.tell(Begin(self.name, wiring.to_json(), str(runtime), place, measures))
        try:
            first = self._hear()
        except TimeoutError:
            first = None
        if not isinstance(first, Ready):
            self.close()
            words = first.says if isinstance(first, HandFault) else "it ended as it began"
            raise PinsFault(f"The hand could not take the pins: {words}")
        self.ready = first
        self._beaten = self._asked = time.monotonic()
        self._link.settimeout(None)

    def listen(self, heard: Callable[[FromHand | None], None]) -> None:
        """Hand every message to `heard`, on a thread; None when the hand is gone."""

        def listening() -> None:
            while (message := self._hear()) is not None:
                heard(message)
            heard(None)

        self._listener = threading.Thread(target=listening, name="hand's words", daemon=True)
        self._listener.start()

    def tell(self, message: ToHand) -> bool:
        """Send a message; False where the hand is gone or does not listen."""
        return self._send(packed(message))

    def _send(self, data: bytes) -> bool:
        try:
            with self._in_use:
                self._link.send(data, socket.MSG_DONTWAIT | socket.MSG_NOSIGNAL)
        except OSError:
            return False
        return True

    def beat(self, well: bool) -> bool:
        """The engine is alive; `well`: the health relay may say so."""
        self._beaten = time.monotonic()
        if self._turned():
            self._asked = self._beaten
        return self._send(BEATS[well])

    @property
    def hangs(self) -> bool:
        """Whether, as the last beat found it, it had not turned for too long after one before."""
        return self._beaten - self._asked > SILENCE_SECONDS

    def _turned(self) -> bool:
        """Whether it has since this was asked last."""
        with self._in_use:
            return not self._pulse.closed and self._pulse.read(8) is not None

    def kill(self) -> None:
        """End it, whatever it does; whoever listens hears that it is gone."""
        self._process.kill()

    def end(self) -> None:
        """Let it open everything and end."""
        self.tell(End())

    def close(self) -> int:
        """See that it has ended; its exit code. A hand that does not end in 2 s is killed."""
        try:
            code = self._process.wait(END_SECONDS)
        except subprocess.TimeoutExpired:
            self._process.kill()
            code = self._process.wait()
        if self._listener is not None:
            self._listener.join(END_SECONDS)  # its last words are heard out
        with self._in_use:
            self._link.close()
            self._pulse.close()
        return code

    def _hear(self) -> FromHand | None:
        try:
            data = self._link.recv(MOST_BYTES)
        except TimeoutError:
            raise
        except OSError:
            return None
        message: FromHand | None = unpacked(data) if data else None
        return message
