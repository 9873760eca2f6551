"""Starting a fake board, or finding the one that runs."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.lines import PinsFault

_LONGEST_PATH = 100  # a Unix socket's address holds 107 bytes (unix(7))
_START_SECONDS = 20.0
_END_SECONDS = 5.0


def board_socket(runtime: Path) -> Path:
    """Where a board of this runtime folder listens. `PinsFault` where the path is too long."""
    path = runtime / "board.sock"
    if len(str(path).encode()) > _LONGEST_PATH:
        raise PinsFault(
            f"{runtime}: too long a path for a socket; name a shorter folder with --runtime."
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
    """The socket of the board for the building at `path`, and whether it was started just now."""
    socket = board_socket(runtime)
    if answers(socket):
        return socket, False
    with (runtime / "board.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "controller.circuits.fakeboard", str(path), str(socket)],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,  # it outlives whoever started it
        )
    give_up = time.monotonic() + _START_SECONDS
    while time.monotonic() < give_up and process.poll() is None:
        if socket.exists() and answers(socket):
            return socket, True
        time.sleep(0.02)
    raise PinsFault(f"The fake board did not start; see {runtime / 'board.log'}.")


def stop(socket: Path) -> None:
    """End a board and wait until it has ended."""
    with BoardClient(socket) as board:
        board.end()
    give_up = time.monotonic() + _END_SECONDS
    while socket.exists() and time.monotonic() < give_up:
        time.sleep(0.01)
