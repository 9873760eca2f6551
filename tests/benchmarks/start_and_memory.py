"""From the start of the daemon to relays under control; the memory it and its hand take; `release`.

    python tests/benchmarks/start_and_memory.py

A start is `understudy run` on the demo school, by exec, with an empty store; the fake board, which
stands for hardware, runs already. Two instants end it: the hand holds its pins, by the board's
stamp, and the daemon says READY to whoever started it, as to systemd. Beside it stands what the
same interpreter needs for nothing, and for the imports alone, each in the same round.

`release` opens what the hand had written down, on the same board, after the daemon has ended.

Memory is the proportional set size (Pss) of daemon and hand, 10 s after the start: pages that
processes share are divided among them. It is taken of the demo, and of the demo without its
`[holidays]`, for the library of public holidays loads the rules of every country of the world.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from statistics import median
from typing import NamedTuple

from daemon_at_work import UNDERSTUDY, daemon_command, end_board, hand_of
from rows import OURS, Figure, Goal, Row, show, spread

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import start_or_find

P = "P4"
DEMO = Path(__file__).parents[2] / "config" / "marrow-lane"
ROUNDS = 30
MEMORY_ROUNDS, SETTLED_SECONDS = 3, 10
KIB = 1024
PATIENT_SECONDS = 30
NOTHING = "pass"
RUN_IMPORTS = "import controller.cli.app, controller.cli.narrowed, controller.cli.run"
HAND_IMPORTS = "import controller.circuits.hand"
RELEASE_IMPORTS = "import controller.circuits.release"
LIBRARIES = "import apscheduler.schedulers.background, pydantic, sqlite3, tomli, typer; "


class Start(NamedTuple):
    """One start, in ms."""

    held: float
    ready: float
    on_core: float  # the daemon's own processor time until READY


class Memory(NamedTuple):
    """Pss, in MB."""

    daemon: float
    hand: float


class Demo:
    """The demo, with or without public holidays, and its board."""

    def __init__(self, folder: Path, *, holidays: bool) -> None:
        self.file, self.runtime = folder / "demo", folder / "runtime"
        self.runtime.mkdir()
        shutil.copytree(DEMO, self.file)
        if not holidays:
            for sheet in self.file.glob("*.toml"):
                text = re.sub(
                    r"^\[holidays\]\n(?:[^\[\n].*\n|\n)*", "", sheet.read_text(), flags=re.M
                )
                sheet.write_text(text)
        start_or_find(self.file, self.runtime)

    @contextmanager
    def started(self) -> Iterator[tuple[Start, int]]:
        """A daemon of which READY was heard: how long that took, and its process."""
        with ExitStack() as ends:
            fresh = Path(ends.enter_context(tempfile.TemporaryDirectory()))
            said = ends.enter_context(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM))
            said.bind(str(fresh / "notify"))
            said.settimeout(PATIENT_SECONDS)
            with BoardClient(self.runtime / "board.sock") as board:
                seen = max((change.number for change in board.log()), default=0)
            command = daemon_command(self.file, fresh / "state", self.runtime)
            told = os.environ | {"NOTIFY_SOCKET": str(fresh / "notify")}
            quiet = subprocess.DEVNULL
            began = time.monotonic_ns()
            daemon = subprocess.Popen(command, env=told, stdin=quiet, stdout=quiet, stderr=quiet)
            ends.callback(daemon.wait, PATIENT_SECONDS)
            ends.callback(daemon.terminate)
            while b"READY=1" not in said.recv(4096):
                pass
            ready = time.monotonic_ns()
            spent = processor_seconds(daemon.pid) * 1e3
            with BoardClient(self.runtime / "board.sock") as board:
                held = next(one.mono for one in board.log(seen) if one.what == "holder")
            yield Start((held - began) / 1e6, (ready - began) / 1e6, spent), daemon.pid


@contextmanager
def demo(*, holidays: bool) -> Iterator[Demo]:
    """It, until its board is ended."""
    with tempfile.TemporaryDirectory() as folder:
        one = Demo(Path(folder), holidays=holidays)
        try:
            yield one
        finally:
            end_board(one.runtime)


def python(words: str) -> list[str]:
    return [sys.executable, "-c", words]


def took(command: list[str]) -> float:
    """From exec to the end of it, in ms."""
    began = time.monotonic_ns()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return (time.monotonic_ns() - began) / 1e6


def processor_seconds(process: int) -> float:
    """What it has spent on a core, all threads, in steps of a tick."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def pss(process: int) -> float:
    """In MB."""
    text = Path(f"/proc/{process}/smaps_rollup").read_text()
    found = re.search(r"^Pss:\s+(\d+) kB", text, re.M)
    assert found is not None, "the kernel tells the proportional set size"
    return int(found[1]) * KIB / 1e6


def pss_of(words: str) -> float:
    """Of an interpreter that has done that and waits."""
    command = python(f"{words}\nprint('done', flush=True)\ninput()")
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe) as process:
        assert process.stdout is not None
        process.stdout.readline()
        taken = pss(process.pid)
        process.communicate(b"\n")
    return taken


def told(milliseconds: Iterable[float]) -> tuple[Figure, ...]:
    """And the least: what it is when nobody else wants a core."""
    times = list(milliseconds)
    return *spread(times, "ms"), Figure("least", min(times), "ms")


# ── measured ─────────────────────────────────────────────────────────────────────────────────


def starts(place: Demo) -> Iterator[Row]:
    """The starts and what stands beside them, and `release` after each."""
    begun: list[Start] = []
    peers: dict[str, list[float]] = {words: [] for words in (NOTHING, LIBRARIES, RUN_IMPORTS)}
    released: list[float] = []
    bare: list[float] = []
    release = [UNDERSTUDY, "release", "--runtime", str(place.runtime)]
    for _ in range(ROUNDS):
        for words, times in peers.items():
            times.append(took(python(words)))
        with place.started() as (start, _):
            begun.append(start)
        released.append(took(release))
        bare.append(took(python(RELEASE_IMPORTS)))
    ready = "exec to READY"
    on_core = Figure("on a core", median(s.on_core for s in begun), "ms")
    figures = *told(s.ready for s in begun), on_core
    yield Row(P, ready, OURS, figures, Goal(400, "≤ 400 ms"))
    yield Row(P, ready, "nothing: python -c pass", told(peers[NOTHING]))
    yield Row(P, ready, "its libraries' imports alone", told(peers[LIBRARIES]))
    yield Row(P, ready, "all its imports alone", told(peers[RUN_IMPORTS]))
    held = told(s.held for s in begun)
    yield Row(P, "exec to pins held", OURS, held, Goal(400, "≤ 400 ms"))
    yield Row(P, "release", OURS, told(released), Goal(100, "≤ 100 ms"))
    yield Row(P, "release", "nothing: python -c pass", told(peers[NOTHING]))
    yield Row(P, "release", "its imports alone", told(bare))


def memory(place: Demo) -> Memory:
    """The median of some starts."""
    found = []
    for _ in range(MEMORY_ROUNDS):
        with place.started() as (_, daemon):
            time.sleep(SETTLED_SECONDS)
            found.append(Memory(pss(daemon), pss(hand_of(daemon))))
    return sorted(found, key=sum)[len(found) // 2]


def memory_row(what: str, who: str, taken: Memory, goal: Goal | None = None) -> Row:
    figures = Figure("", sum(taken), "MB"), Figure("daemon", taken.daemon, "MB")
    return Row(P, what, who, (*figures, Figure("hand", taken.hand, "MB")), goal)


def rows() -> Iterator[Row]:
    """The benchmark."""
    with demo(holidays=True) as place:
        yield from starts(place)
        holidays = memory(place)
    with demo(holidays=False) as place:
        without = memory(place)
    what = "memory (Pss)"
    yield memory_row(what, OURS, without, Goal(56, "≤ 56 MB"))
    yield memory_row(
        what, "all its imports alone", Memory(pss_of(RUN_IMPORTS), pss_of(HAND_IMPORTS))
    )
    yield memory_row(what, "nothing: python -c pass", Memory(pss_of(NOTHING), pss_of(NOTHING)))
    yield memory_row("memory with public holidays", OURS, holidays)


if __name__ == "__main__":
    show(rows())
