"""What the benchmarks of a running daemon share: its start and end, its board, and what it saw."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.record import Change
from controller.circuits.lines import PinsFault
from controller.service.order_client import NoDaemon, OrderClient

SECOND = 1_000_000_000
READY_SECONDS = 20
BOARD_PRIORITY = 60  # above the hand's
HAND_PRIORITY = 50  # as the hand takes it
UNDERSTUDY = str(Path(sys.executable).with_name("understudy"))
_EARLY = 5_000_000  # ns; an edge that comes so long before its time would be seen, too
_WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Edge(NamedTuple):
    """A pin that is due to change."""

    due: int  # utc
    pin: int
    to: int


def every_day(plan: str) -> str:
    """The week's table with the same plan on each day."""
    return "[week]\n" + "".join(f'{day} = "{plan}"\n' for day in _WEEK)


@contextmanager
def running(command: list[str], **environment: str) -> Iterator[subprocess.Popen[bytes]]:
    """A process of the house, ended as systemd would."""
    quiet = subprocess.DEVNULL
    around = {**os.environ, **environment}
    process = subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet, env=around)
    try:
        yield process
    finally:
        process.terminate()
        process.wait(30)


def daemon_command(file: Path, state: Path, runtime: Path) -> list[str]:
    """A daemon on a fake board, with clock and lines right."""
    folders = ["--state", str(state), "--runtime", str(runtime)]
    return [UNDERSTUDY, "run", str(file), "--fake", "--as-if-right", *folders]


def end_board(runtime: Path) -> None:
    """It outlives whoever used it."""
    with contextlib.suppress(PinsFault), BoardClient(runtime / "board.sock") as board:
        board.end()


def wait_until_trusted(runtime: Path) -> None:
    """Until the daemon answers and trusts its clock."""
    give_up = time.monotonic() + READY_SECONDS
    while time.monotonic() < give_up:
        with contextlib.suppress(NoDaemon, OSError), OrderClient(runtime, 5.0) as daemon:
            if daemon.ask("status")["state"]["clock"]["trusted"]:
                return
        time.sleep(0.1)
    raise SystemExit(f"the daemon was not ready in {READY_SECONDS} s")


# ── priority ─────────────────────────────────────────────────────────────────────────────────


def hurry_board(runtime: Path) -> bool:
    """The board stands for hardware, which waits for no processor: real-time priority for it.

    False where this machine does not allow that.
    """
    with BoardClient(runtime / "board.sock") as board:
        process = int(board.state()["process"])
    try:
        schedule(process, BOARD_PRIORITY)
    except PermissionError:
        return False
    return True


def schedule(process: int, priority: int) -> None:
    """Every thread of it at this real-time priority (SCHED_FIFO), or of the ordinary class: 0."""
    kind = os.SCHED_FIFO if priority else os.SCHED_OTHER
    for thread in Path(f"/proc/{process}/task").iterdir():
        with contextlib.suppress(ProcessLookupError):
            os.sched_setscheduler(int(thread.name), kind, os.sched_param(priority))


def hand_of(daemon: int) -> int:
    """The process that holds the pins for a daemon."""
    children = Path(f"/proc/{daemon}/task/{daemon}/children").read_text().split()
    for child in map(int, children):
        if b"controller.circuits.hand" in Path(f"/proc/{child}/cmdline").read_bytes():
            return child
    raise SystemExit("the daemon has no hand")


# ── what the board saw ───────────────────────────────────────────────────────────────────────


class Seen:
    """When each pin changed, by the board's stamps (utc)."""

    def __init__(self, changes: Iterable[Change]) -> None:
        self._times: dict[tuple[str, int], list[int]] = {}
        for change in changes:
            if change.what == "pin":
                self._times.setdefault((change.name, change.to), []).append(change.utc)

    def late(self, edge: Edge, near: int) -> int | None:
        """How late an edge was, in ns; None where nothing was seen in so many ns from its time."""
        times = self._times.get((f"GPIO{edge.pin}", edge.to), [])
        place = bisect_left(times, edge.due - _EARLY)
        if place < len(times) and times[place] <= edge.due + near:
            return times[place] - edge.due
        return None


def seen_on(runtime: Path) -> Seen:
    """All that the board kept."""
    with BoardClient(runtime / "board.sock") as board:
        return Seen(board.log())
