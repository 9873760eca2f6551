"""Starting a fake board, or finding the one that runs."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.lines import PinsFault

FOUND = 3  # exit code of a board that found another in its place
_LONGEST_PATH = 107  # bytes of a Unix socket's address, without its end (unix(7))
_START_SECONDS = 20.0
_END_SECONDS = 5.0
_PAUSE_SECONDS = 0.01
_MOST_WORDS = 4_000  # of what a board says that did not start


def board_socket(runtime: Path) -> Path:
    """Where a board of this runtime folder listens. `PinsFault` where the path is too long."""
    path = runtime / "board.sock"
    if (length := len(str(path.absolute()).encode())) > _LONGEST_PATH:
        raise PinsFault(
            f"{path}: {length} bytes are too long a path for a socket, which has at most "
            f"{_LONGEST_PATH}; name a shorter folder with --runtime."
        )
    return path


def answers(socket: Path) -> bool:
    """Whether a board listens there."""
    try:
        with BoardClient(socket) as board:
            board.state()
    except PinsFault:
        return False
    return True


def start_or_find(path: Path, runtime: Path) -> tuple[Path, bool]:
    """The socket of the board for the building at `path`, and whether it was started just now.

    A board that runs is taken as it is, whatever building it was started with. Raise `PinsFault`
    where none runs and none can be started.
    """
    socket = board_socket(runtime)
    if answers(socket):
        return socket, False
    log = runtime / "board.log"
    command = [sys.executable, "-m", "controller.circuits.fakeboard", str(path), str(socket)]
    try:
        with log.open("wb") as stream:
            code = subprocess.run(
                command,
                stdin=subprocess.DEVNULL,
                stdout=stream,
                stderr=stream,
                start_new_session=True,  # it outlives whoever started it
                timeout=_START_SECONDS,
                check=False,
            ).returncode
    except subprocess.TimeoutExpired:
        raise PinsFault(f"The fake board did not start within {_START_SECONDS:g} s.") from None
    except OSError as fault:
        raise PinsFault(f"The fake board cannot be started: {log}: {fault.strerror}") from None
    if code not in (0, FOUND):
        said = log.read_text(errors="replace")[-_MOST_WORDS:].strip()
        raise PinsFault(f"The fake board did not start:\n{said}")
    return socket, code == 0


def stop(socket: Path) -> None:
    """End a board and wait until it has ended. `PinsFault` where none answers or it goes on."""
    with BoardClient(socket) as board:
        board.end()
    give_up = time.monotonic() + _END_SECONDS
    while socket.exists():
        if time.monotonic() >= give_up:
            raise PinsFault(f"The fake board at {socket} was told to end and goes on.")
        time.sleep(_PAUSE_SECONDS)
