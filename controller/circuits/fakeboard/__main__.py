"""`python -m controller.circuits.fakeboard PATH SOCKET`: the board's process.

It reads the building and listens, then goes on in the background; so whoever waits for this command
knows when the board answers. It ends with 0, with 3 where a board answers there already, and in
words with 2 where the file has faults or with 1 where it cannot listen.
"""

from __future__ import annotations

import fcntl
import os
import signal
import sys
import time
from pathlib import Path
from typing import IO

from controller.building.faults import Faults
from controller.building.file import read
from controller.circuits.fakeboard.server import Server
from controller.circuits.fakeboard.spawning import FOUND, answers

_PATIENCE_SECONDS = 5.0  # for a board that is just starting or ending
_PAUSE_SECONDS = 0.02


def main(path: Path, socket: Path) -> int:
    """Become the board."""
    try:
        building = read(path)
        with socket.with_suffix(".lock").open("w") as lock:
            if not _seize(lock, socket):
                return FOUND
            server = Server(building, socket)
            if os.fork():
                os._exit(0)  # without tidying up: the lock and the socket are the board's now
            _ignore_the_terminal()
            server.run()
    except Faults as faults:
        print(faults, file=sys.stderr)
        return 2
    except OSError as fault:
        print(f"{socket}: {fault.strerror or fault}", file=sys.stderr)
        return 1
    return 0


def _seize(lock: IO[str], socket: Path) -> bool:
    """Be the one board of this socket; False where another answers there."""
    give_up = time.monotonic() + _PATIENCE_SECONDS
    while True:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except BlockingIOError:
            if answers(socket):
                return False
            if time.monotonic() >= give_up:
                raise
        time.sleep(_PAUSE_SECONDS)


def _ignore_the_terminal() -> None:
    """The board outlives the daemon: a Ctrl-C for the one is not for the other."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
