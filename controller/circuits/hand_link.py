"""The other end of a hand: started by exec, heard by a thread, told without waiting."""

from __future__ import annotations

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
    MOST_BYTES,
    Beat,
    Begin,
    End,
    FromHand,
    HandFault,
    Heard,
    Ready,
    ToHand,
    packed,
    unpacked,
)

START_SECONDS = 10.0
SILENCE_SECONDS = 2.5  # it answers each beat of a second at once
END_SECONDS = 2.0


class HandLink:
    """One hand from its start to its end. `ready` is its first word: what its inputs read then."""

    def __init__(
        self,
        name: str,
        wiring: Wiring,
        runtime: Path,
        board: Path | None,
        *,
        measures: bool = False,
    ) -> None:
        """Start the hand and wait until it holds the pins. Raise `PinsFault` where it cannot.

        One that `measures` tells of every edge of its senses, as `Sensed`.
        """
        self.name = name
        self._listener: threading.Thread | None = None
        self._heard = time.monotonic()
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "controller.circuits.hand", str(theirs.fileno())],
                pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL,
            )
        self._link = ours
        self._link.settimeout(START_SECONDS)
        self.pid = self._process.pid
        place = "" if board is None else str(board)
        self.tell(Begin(name, wiring.to_json(), str(runtime), place, measures))
        try:
            first = self._hear()
        except TimeoutError:
            first = None
        if not isinstance(first, Ready):
            self.close()
            words = first.says if isinstance(first, HandFault) else "it ended as it began"
            raise PinsFault(f"The hand could not take the pins: {words}")
        self.ready = first
        self._link.settimeout(None)

    def listen(self, heard: Callable[[FromHand | None], None]) -> None:
        """Hand every message to `heard`, on a thread; None when the hand is gone."""

        def listening() -> None:
            while (message := self._hear()) is not None:
                self._heard = time.monotonic()
                if not isinstance(message, Heard):
                    heard(message)
            heard(None)

        self._listener = threading.Thread(target=listening, name="hand's words", daemon=True)
        self._listener.start()

    def tell(self, message: ToHand) -> bool:
        """Send a message; False where the hand is gone or does not listen."""
        try:
            self._link.send(packed(message), socket.MSG_DONTWAIT | socket.MSG_NOSIGNAL)
        except OSError:
            return False
        return True

    def beat(self, well: bool) -> bool:
        """The engine is alive; `well`: the health relay may say so."""
        return self.tell(Beat(well))

    @property
    def hangs(self) -> bool:
        """Whether it has been told of beats, and has said nothing for too long."""
        return time.monotonic() - self._heard > SILENCE_SECONDS

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
        self._link.close()
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
