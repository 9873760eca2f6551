"""What a stored impulse costs: bytes that reach the device, and time, a commit.

    python tests/benchmarks/stored_impulse_bytes.py [--folder WHERE] [--commits N] [--rounds N]
        [--spacing SECONDS]

The store against its peers, interleaved in one run, on fresh files in every round:

- a 64-byte record, written in place and flushed (`pwrite`, `fdatasync`): the least that a file
  system allows;
- SQLite, WAL and FULL, all else as it comes, rows appended; its log still growing, as in the first
  thousand commits after a start, and once its log is in use for the second time;
- the store, as the daemon uses it: a stamp and a line of dials a commit, and `fold` after it.

Counted by the kernel (`/sys/dev/block/…/stat`) from one `sync` to another, so that what the file
system writes later is counted too. What others wrote meanwhile is taken off at the rate seen while
nothing was committed. Checkpoints that fall into a round are in its figures; what opening costs
(the store writes its log's room, 8 MiB) is not. Commits follow each other faster than a building's;
with `--spacing 6` the file system's own five-second commit falls into every one of them.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Literal, NamedTuple

from rows import OURS, Figure, Goal, Row, show

from controller.engine.records import LineRow, Stamp, StepRow
from controller.journal.store import Store

MINUTE = 60_000_000_000
BOOT = "0f6bba20-6a3c-4b52-9d5f-2f5e5a7c1d11"
RECORD_BYTES = 64
SECTOR_BYTES = 512  # the unit of the kernel's counter, whatever the device's own
IMPULSES_A_DAY = 1_440
LEAST = "64 bytes in place, fdatasync"
WARMING = 1_200  # commits; a log of SQLite's defaults begins anew at 1,000 pages
Commit = Callable[[int], None]


class Counted(NamedTuple):
    written: int  # bytes
    writes: int
    flushes: int


class Cost(NamedTuple):
    """Of one commit, on average over a round; but the times are of single commits."""

    written: float  # bytes
    writes: float
    flushes: float
    median_ms: float
    slowest_ms: float


@contextmanager
def record_in_place(folder: Path) -> Iterator[Commit]:
    handle = os.open(folder / "record", os.O_RDWR | os.O_CREAT)
    os.write(handle, bytes(4096))
    os.fsync(handle)

    def commit(number: int) -> None:
        os.pwrite(handle, str(number).encode().ljust(RECORD_BYTES), number % 64 * RECORD_BYTES)
        os.fdatasync(handle)

    yield commit
    os.close(handle)


@contextmanager
def sqlite_as_it_comes(folder: Path) -> Iterator[Commit]:
    with closing(sqlite3.connect(folder / "appended.db", isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("CREATE TABLE impulses (number INTEGER PRIMARY KEY, stamp TEXT, line TEXT)")

        def commit(number: int) -> None:
            stamp, line = impulse(number)
            db.execute("BEGIN IMMEDIATE")
            db.execute(
                "INSERT INTO impulses (stamp, line) VALUES (?, ?)", (repr(stamp), repr(line))
            )
            db.execute("COMMIT")

        yield commit


@contextmanager
def sqlite_log_in_use_again(folder: Path) -> Iterator[Commit]:
    with sqlite_as_it_comes(folder) as commit:
        for number in range(WARMING):
            commit(number)
        yield commit


@contextmanager
def the_store(folder: Path) -> Iterator[Commit]:
    with closing(Store(folder / "store.db")) as store:
        assert store.room_ready, "no room on this disk: the figures would be of something else"

        def commit(number: int) -> None:
            store.commit(impulse(number))
            store.fold()

        yield commit


PEERS = {
    LEAST: record_in_place,
    "SQLite WAL/FULL, log growing": sqlite_as_it_comes,
    "SQLite WAL/FULL, log in use again": sqlite_log_in_use_again,
    OURS: the_store,
}


def impulse(number: int) -> tuple[Stamp, LineRow]:
    utc = 1_795_609_800_000_000_000 + number * MINUTE
    polarity: Literal["+", "-"] = "-" if number % 2 else "+"
    step = StepRow(number, polarity, utc, number * MINUTE, BOOT, True, False)
    line = LineRow("main", True, number % 720, 720, polarity, False, False, step, utc)
    return Stamp(utc, number * MINUTE, BOOT, True, utc, utc, number), line


class Disk(NamedTuple):
    """The device under a folder, and its file system as mounted."""

    counter: Path
    words: str

    @classmethod
    def under(cls, folder: Path) -> Disk:
        device = folder.stat().st_dev
        number = f"{os.major(device)}:{os.minor(device)}"
        counter = Path("/sys/dev/block") / number / "stat"
        if not counter.exists():
            sys.exit(f"{folder}: lies on no block device whose writes are counted; name another")
        for line in Path("/proc/self/mountinfo").read_text().splitlines():
            before, _, after = line.partition(" - ")
            if before.split()[2] == number:
                kind, source, options = after.split()[:3]
                options = ",".join(dict.fromkeys(f"{before.split()[5]},{options}".split(",")))
                return cls(counter, f"{source}, {kind} ({options})")
        return cls(counter, f"device {number}")

    def counted(self) -> Counted:
        os.sync()
        fields = [int(field) for field in self.counter.read_text().split()]
        return Counted(fields[6] * SECTOR_BYTES, fields[4], fields[15] if len(fields) > 15 else 0)


def idle_rate(disk: Disk, seconds: float) -> float:
    """Bytes a second that others write."""
    before, began = disk.counted(), time.monotonic()
    time.sleep(seconds)
    after = disk.counted()
    return (after.written - before.written) / (time.monotonic() - began)


def cost_of(commit: Commit, disk: Disk, commits: int, spacing: float, others: float) -> Cost:
    """`others`: bytes a second that are not ours."""
    times = []
    before, began = disk.counted(), time.monotonic()
    for number in range(commits):
        start = time.perf_counter()
        commit(number)
        times.append((time.perf_counter() - start) * 1000)
        time.sleep(spacing)
    after, lasted = disk.counted(), time.monotonic() - began
    written = max(0.0, after.written - before.written - others * lasted)
    return Cost(
        written / commits,
        (after.writes - before.writes) / commits,
        (after.flushes - before.flushes) / commits,
        statistics.median(times),
        max(times),
    )


def measured(
    disk: Disk, folder: Path, arguments: argparse.Namespace
) -> tuple[dict[str, list[Cost]], list[float]]:
    """Costs by peer, a round each; and the others' rates."""
    costs: dict[str, list[Cost]] = {name: [] for name in PEERS}
    rates = []
    for turn in range(arguments.rounds):
        rates.append(idle_rate(disk, min(60.0, arguments.commits * arguments.spacing)))
        names = list(PEERS)
        for name in names[turn % len(names) :] + names[: turn % len(names)]:
            with (
                tempfile.TemporaryDirectory(dir=folder) as scratch,
                PEERS[name](Path(scratch)) as commit,
            ):
                cost = cost_of(commit, disk, arguments.commits, arguments.spacing, rates[-1])
            costs[name].append(cost)
    return costs, rates


def asked(words: list[str]) -> argparse.Namespace:
    """How it is to be measured."""
    parser = argparse.ArgumentParser(description="What a stored impulse costs.")
    parser.add_argument("--folder", type=Path, default=Path(), help="on the disk to be measured")
    parser.add_argument("--commits", type=int, default=1000)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--spacing", type=float, default=0.005, help="seconds between commits")
    return parser.parse_args(words)


def rows(words: Sequence[str] = ()) -> Iterator[Row]:
    """The benchmark."""
    arguments = asked([*words])
    disk = Disk.under(arguments.folder)
    costs, rates = measured(disk, arguments.folder, arguments)
    block = os.statvfs(arguments.folder).f_bsize
    note = (
        f"{disk.words}, blocks of {block} bytes; SQLite {sqlite3.sqlite_version}; "
        f"{arguments.commits:,} commits, {arguments.spacing * 1000:g} ms apart, medians of "
        f"{arguments.rounds} rounds; others wrote {statistics.median(rates) / 1000:.1f} kB/s, "
        "which is taken off"
    )
    middle = {
        name: Cost(*map(statistics.median, zip(*of, strict=True))) for name, of in costs.items()
    }
    most = 2 * middle[LEAST].written / 1000
    for name, cost in middle.items():
        figures = (
            Figure("", cost.written / 1000, "kB"),
            Figure("", cost.written / (middle[LEAST].written or 1), "× the least"),
            Figure("", cost.written * IMPULSES_A_DAY / 1e6, "MB a day"),
            Figure("", cost.flushes, "flushes"),
            Figure("median", cost.median_ms, "ms"),
            Figure("slowest", max(one.slowest_ms for one in costs[name]), "ms"),
        )
        goal = Goal(most, "≤ 2 × a record in place") if name == OURS else None
        yield Row("P5", "a stored impulse", name, figures, goal, note)


if __name__ == "__main__":
    show(rows(sys.argv[1:]))
