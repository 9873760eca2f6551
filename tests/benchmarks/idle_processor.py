"""Processor time of an idle daemon and its hand, and what wakes them.

    python tests/benchmarks/idle_processor.py [SECONDS]

A daemon with the demo school's wiring and no timetable: three lines step, four impulses a minute,
and no bell rings. Nobody looks at it and nothing is pressed. The kernel counts for ten minutes, for
each process and all of its threads, those that ended too, the time on a core (utime and stime); and
how often a thread gave up its core of itself (voluntary context switches), which is how often
something woke it. Its notices are taken as systemd would take them. The board stands for hardware
and is not counted, but that the hand speaks to it through a socket, and not to a driver, is in the
hand's figures.
"""

from __future__ import annotations

import os
import socket
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from daemon_at_work import daemon_command, end_board, hand_of, running, wait_until_trusted
from rows import OURS, Figure, Goal, Row, show

P = "P6"
WIRING = Path(__file__).parents[2] / "config" / "marrow-lane" / "10-wiring.toml"
SECONDS = 600
SETTLED_SECONDS = 20
TICKS = os.sysconf("SC_CLK_TCK")


class Counted(NamedTuple):
    """Of one process so far."""

    seconds: float  # on a core
    woken: Counter[str]  # by thread

    def since(self, before: Counted) -> Counted:
        return Counted(self.seconds - before.seconds, self.woken - before.woken)


def counted(process: int) -> Counted:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    woken: Counter[str] = Counter()
    for thread in Path(f"/proc/{process}/task").iterdir():
        told = dict(line.split(":\t", 1) for line in (thread / "status").read_text().splitlines())
        woken[thread.name] += int(told["voluntary_ctxt_switches"])
    return Counted((int(fields[11]) + int(fields[12])) / TICKS, woken)


@contextmanager
def notices_taken() -> Iterator[str]:
    """Somebody in systemd's place, and the address at which a service finds it."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as link:
        link.bind("")  # the kernel finds a name

        def taking() -> None:
            while link.recv(4096):
                pass

        taker = threading.Thread(target=taking)
        taker.start()
        name = link.getsockname()
        try:
            yield "@" + name[1:].decode()
        finally:
            link.sendto(b"", name)
            taker.join()


def rows(seconds: float = SECONDS) -> Iterator[Row]:
    """The benchmark."""
    with tempfile.TemporaryDirectory() as state, tempfile.TemporaryDirectory() as runtime:
        try:
            command = daemon_command(WIRING, Path(state), Path(runtime))
            with notices_taken() as address, running(command, NOTIFY_SOCKET=address) as daemon:
                wait_until_trusted(Path(runtime))
                time.sleep(SETTLED_SECONDS)
                both = {"daemon": daemon.pid, "hand": hand_of(daemon.pid)}
                before = {name: counted(process) for name, process in both.items()}
                began = time.monotonic()
                time.sleep(seconds)
                lasted = time.monotonic() - began
                spent = {name: counted(both[name]).since(before[name]) for name in both}
        finally:
            end_board(Path(runtime))
    threads = [t / lasted for one in spent.values() for t in one.woken.values()]
    often = ", ".join(f"{times:.2f}" for times in sorted(threads, reverse=True)[:6])
    note = f"{lasted:,.0f} s; the threads woken most often, a second: {often}"
    share = {name: 100 * one.seconds / lasted for name, one in spent.items()}
    each = (Figure(name, part, "%") for name, part in share.items())
    goal = Goal(0.1, "≤ 0.1 % of a core")
    yield Row(P, "idle: processor", OURS, (Figure("", sum(share.values()), "%"), *each), goal, note)
    woken = {name: sum(one.woken.values()) / lasted for name, one in spent.items()}
    each = (Figure(name, times, "a second") for name, times in woken.items())
    yield Row(
        P, "idle: woken", OURS, (Figure("", sum(woken.values()), "a second"), *each), None, note
    )


if __name__ == "__main__":
    show(rows(*map(float, sys.argv[1:2])))
