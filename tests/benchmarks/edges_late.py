"""P1: how late relay edges are, from the due instant to the pin's change; and what else there is.

    python tests/benchmarks/edges_late.py [--rounds N] [--block-seconds S] [--folder WHERE]

The whole daemon, storing on a disk, its hand and its fake board run a timetable in which one of two
zones rings each second, in strokes of 50 ms: twenty edges a second. Beside it run the peers of
`edge_peers.py`, all at once, each with its instants in a slot of its own 8 ms after the one before;
every peer drives a pin of the same board through the same pin factory, so that the way to the board
is in everybody's figures. Blocks of four kinds follow each other in one run: with the cores idle or
a busy loop on each, and with the hand and all peers of the ordinary scheduling class or all at the
hand's real-time priority. (The hand takes that priority by itself, as it always does; it is taken
from it from outside, and given back. Memory is locked in both. The daemon is of the ordinary class
throughout.)

All due instants are utc and so are the board's stamps: lateness is the one less the other. Of a
`blink` an edge is due at the instant at which it was called plus n × 50 ms. The board stands for
hardware: it has real-time priority above all, where the machine allows that. Of an edge of which
nothing was seen within 95 ms it is said that it was not seen.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from daemon_at_work import (
    HAND_PRIORITY,
    READY_SECONDS,
    SECOND,
    Edge,
    Seen,
    daemon_command,
    end_board,
    every_day,
    hand_of,
    hurry_board,
    running,
    schedule,
    seen_on,
    wait_until_trusted,
)
from edge_peers import BLINK, EDGES, PEERS, STROKE
from rows import OURS, Figure, Goal, Row, show, spread

ZONES = {"even": 17, "odd": 27}  # by the seconds at which they ring
SLOT = 8_000_000  # ns between the instants of one and of the next
PEER_PINS = dict(zip(PEERS, (5, 6, 12, 13, 16), strict=True))
NEAR = 95_000_000  # ns; less than two strokes, after which a pin changes alike
RING_NEAR = SECOND - STROKE  # the first edge of a ring, which nothing of its zone is like before
REST_SECONDS = 2  # before each block, while what runs is changed
FIRST = "ours, first edge of a play"
REFERENCE, CRON = "clock_nanosleep", "APScheduler cron jobs"
BUSY = "busy"
NOTES = {
    FIRST: "a ring that the store kept waiting for more than the 1 s ahead begins late as a whole",
    BLINK: "due: the instant of the call and n × 50 ms, so that its lateness adds up in a second",
    CRON: "twenty jobs, each of every second; their trigger adds the part of a second",
}
AS_IT_COMES = "the hand takes real-time priority by itself, APScheduler does not"
CLASSES = {"ordinary class": 0, "real-time": HAND_PRIORITY}


class Block(NamedTuple):
    """A stretch of the run: whole seconds, by their number."""

    busy: bool
    priority: int
    first: int
    past: int


def blocks_of(rounds: int, seconds: int) -> list[Block]:
    """All of them, in the order in which they follow each other."""
    kinds = [(busy, priority) for priority in CLASSES.values() for busy in (False, True)]
    blocks = []
    for number in range(rounds * len(kinds)):
        first = number * (seconds + REST_SECONDS) + REST_SECONDS
        blocks.append(Block(*kinds[number % len(kinds)], first, first + seconds))
    return blocks


def house(first: int, seconds: int) -> str:
    """The file of a building that rings in each of these seconds from `first` (utc, ns) on."""
    strokes = [STROKE / SECOND] * (EDGES - 1)
    rings = []
    for number in range(seconds):
        at = datetime.fromtimestamp(first // SECOND + number, UTC)
        zone = "odd" if number % 2 else "even"
        rings.append(f'{{ at = "{at:%H:%M:%S}", zones = ["{zone}"], strokes = {strokes} }},')
    told = "\n".join(rings)
    zones = "".join(f"[zones.{name}]\nrelay = {pin}\n" for name, pin in ZONES.items())
    return (
        f'[building]\nname = "Strokes"\ntimezone = "Etc/UTC"\n{zones}'
        f"[plans.daily]\nrings = [\n{told}\n]\n{every_day('daily')}"
    )


# ── the run ──────────────────────────────────────────────────────────────────────────────────


def run(folder: Path, runtime: Path, blocks: list[Block]) -> tuple[Seen, int]:
    """Let all run through the blocks. What the board saw, and the first second (utc, ns)."""
    first, seconds = (int(time.time()) + READY_SECONDS) * SECOND, blocks[-1].past + 1
    if time.gmtime(first // SECOND).tm_yday != time.gmtime(first // SECOND + seconds).tm_yday:
        raise SystemExit("edges_late: midnight (UTC) is too near")
    (folder / "strokes.toml").write_text(house(first, seconds))
    with ExitStack() as ends:
        ends.callback(end_board, runtime)
        command = daemon_command(folder / "strokes.toml", folder, runtime)
        daemon = ends.enter_context(running(command))
        wait_until_trusted(runtime)
        if not hurry_board(runtime):
            print("edges_late: the board has no real-time priority", file=sys.stderr)
        measured = [hand_of(daemon.pid)]
        for place, (peer, pin) in enumerate(PEER_PINS.items(), 1):
            command = [sys.executable, str(Path(__file__).with_name("edge_peers.py")), peer]
            told = (runtime / "board.sock", pin, first + place * SLOT, seconds)
            measured.append(ends.enter_context(running([*command, *map(str, told)])).pid)
        for block in blocks:
            _pass(block, first, measured)
        return seen_on(runtime), first


def _pass(block: Block, first: int, measured: Iterable[int]) -> None:
    """Set the scene in the rest before a block, and wait until it is over."""
    _sleep_until(first + (block.first - REST_SECONDS) * SECOND + SECOND // 2)
    for process in measured:
        schedule(process, block.priority)
    with ExitStack() as ends:
        if block.busy:
            for core in os.sched_getaffinity(0):
                words = f"import os; os.sched_setaffinity(0, [{core}])\nwhile True: pass"
                ends.enter_context(running([sys.executable, "-c", words]))
        _sleep_until(first + block.past * SECOND)


def _sleep_until(utc: int) -> None:
    time.sleep(max(0, utc - time.time_ns()) / SECOND)


# ── what came of it ──────────────────────────────────────────────────────────────────────────


def edges(who: str, first: int, second: int) -> Iterator[Edge]:
    """What was due of one of them in a second."""
    begins = first + second * SECOND
    if who in (OURS, FIRST):
        pin, count = ZONES["odd" if second % 2 else "even"], 1 if who == FIRST else EDGES
    else:
        begins += (list(PEER_PINS).index(who) + 1) * SLOT
        pin, count = PEER_PINS[who], EDGES - 2 if who == BLINK else EDGES
    return (Edge(begins + number * STROKE, pin, 1 - number % 2) for number in range(count))


Figures = dict[str, tuple[Figure, ...]]  # by who: median, 99 %, worst, how many


def figures_of(seen: Seen, first: int, blocks: Iterable[Block]) -> Figures:
    """What was seen of everybody in these blocks."""
    seconds = [second for block in blocks for second in range(block.first, block.past)]
    figures = {}
    for who in (OURS, FIRST, *PEER_PINS):
        near = RING_NEAR if who == FIRST else NEAR
        found = [seen.late(edge, near) for s in seconds for edge in edges(who, first, s)]
        ms = [one / 1e6 for one in found if one is not None]
        lost = (Figure("not seen", len(found) - len(ms), ""),) if len(ms) < len(found) else ()
        worst, count = Figure("worst", max(ms), "ms"), Figure("", len(ms), "edges")
        figures[who] = (*spread(ms, "ms"), worst, count, *lost)
    return figures


def told(kind: str, figures: Figures) -> Iterator[Row]:
    """The rows of one kind of block: everybody's, and ours against those that goals name."""
    median = Goal(1.5 * figures[REFERENCE][0].value, f"median ≤ 1.5 × {REFERENCE}")
    for who, found in figures.items():
        note = NOTES.get(who, "")
        yield Row("P1", f"edges, {kind}", who, found, median if who == OURS else None, note)
    yield from _high(f"99 % of edges, {kind}", figures, figures, REFERENCE, 2)
    if kind.startswith(BUSY):
        yield from _high(f"99 % of edges, {kind}, to cron", figures, figures, CRON, 0.1)


def _high(
    what: str, ours: Figures, theirs: Figures, peer: str, times: float, note: str = ""
) -> Iterator[Row]:
    """Ours against a peer's, where it is the 99 % that count."""
    high = theirs[peer][1]
    goal = Goal(times * high.value, f"99 % ≤ {times:g} × {peer}")
    yield Row("P1", what, OURS, ours[OURS][1:2], goal, note)
    yield Row("P1", what, peer, (high,))


def rows(rounds: int = 5, block_seconds: int = 30, folder: Path | None = None) -> Iterator[Row]:
    """Measure. With what is set: 3,000 edges of ours in each kind of block, in eleven minutes."""
    blocks = blocks_of(rounds, block_seconds)
    with (
        tempfile.TemporaryDirectory(dir=folder) as state,
        tempfile.TemporaryDirectory() as runtime,
    ):
        seen, first = run(Path(state), Path(runtime), blocks)
    found = {}
    for name, priority in CLASSES.items():
        for busy in (False, True):
            of = [block for block in blocks if block[:2] == (busy, priority)]
            found[busy, priority] = figures_of(seen, first, of)
            yield from told(f"{BUSY if busy else 'idle'}, {name}", found[busy, priority])
    alone = found[True, HAND_PRIORITY], found[True, 0]
    yield from _high(f"99 % of edges, {BUSY}, each as it comes", *alone, CRON, 0.1, AS_IT_COMES)


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--block-seconds", type=int, default=30)
    parser.add_argument("--folder", type=Path, help="of the store, on the disk to be used")
    given = parser.parse_args()
    show(rows(given.rounds, given.block_seconds, given.folder))


if __name__ == "__main__":
    main()
