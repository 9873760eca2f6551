"""Whether a relay's edges come later while the page is hammered.

    python tests/benchmarks/page_hammered.py [--clients N] [--blocks N] [--block-seconds S]

A daemon, its hand and its fake board run a timetable in which one of two zones rings each second,
in strokes of 0.1 s: ten edges a second, whose due instants the file says. Before them stands a
real page. Quiet blocks and hammered ones follow each other in one run. In a hammered one so many
clients, each signed in and with a connection of its own, ask for `/`, `/timetable`, `/logbook` and
the polled part of Now, one after another, as fast as the page answers.

Lateness is the time at which the board saw an edge, on the system's clock, less the one at which
it was due. So that it is the hand's and not the board's, the board gets real-time priority where
the machine allows it. The clients share the machine with what is measured, which is worse than
browsers elsewhere would be. An edge of which nothing was seen within 0.09 s of its time is counted
as not seen.
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import os
import secrets
import socket
import statistics
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlencode

from daemon_at_work import (
    READY_SECONDS,
    SECOND,
    UNDERSTUDY,
    Edge,
    Seen,
    daemon_command,
    end_board,
    every_day,
    hurry_board,
    running,
    seen_on,
    wait_until_trusted,
)

STROKE = SECOND // 10
STROKES = 9  # lengths of a ring: on, off, … on
EDGES = STROKES + 1
PINS = {"even": 17, "odd": 27}  # zones, by the seconds at which they ring
NEAR = 90_000_000  # ns; less than a stroke
REST_SECONDS = 2  # between blocks, of no block
ASKED = ("/", "/timetable", "/logbook", "/now/part")
WHO, PASSWORD = "ada", secrets.token_urlsafe(12)


class Block(NamedTuple):
    """A stretch of the run."""

    hammered: bool
    began: int  # utc
    ended: int
    requests: int
    failed: int


def house(first: int, seconds: int) -> str:
    """The file of a building that rings in each of these seconds (utc, whole) from the first on."""
    rings = []
    for number in range(seconds):
        at = datetime.fromtimestamp(first + number, UTC)
        zone = "odd" if number % 2 else "even"
        rings.append(
            f'{{ at = "{at:%H:%M:%S}", zones = ["{zone}"], strokes = {[0.1] * STROKES} }},'
        )
    told = "\n".join(rings)
    zones = "".join(f"[zones.{name}]\nrelay = {pin}\n" for name, pin in PINS.items())
    return (
        f'[building]\nname = "Hammered"\ntimezone = "Etc/UTC"\n{zones}'
        f"[plans.daily]\nrings = [\n{told}\n]\n{every_day('daily')}"
    )


@contextmanager
def house_with_page(folder: Path, runtime: Path, port: int) -> Iterator[None]:
    """The daemon and the page, until both have been used."""
    file, people = folder / "hammered.toml", folder / "people.toml"
    add = [UNDERSTUDY, "person", "add", WHO, "--role", "edit", "--people", str(people)]
    subprocess.run(add, input=PASSWORD, text=True, check=True, stdout=subprocess.DEVNULL)
    page = [UNDERSTUDY, "page", str(file), "--fake", "--port", str(port), "--people", str(people)]
    page += ["--state", str(folder), "--runtime", str(runtime)]
    with ExitStack() as ends:
        ends.callback(end_board, runtime)
        ends.enter_context(running(daemon_command(file, folder, runtime)))
        ends.enter_context(running(page))
        wait_until_trusted(runtime)
        wait_for_page(port)
        yield


def wait_for_page(port: int) -> None:
    """Until it takes connections."""
    give_up = time.monotonic() + READY_SECONDS
    while time.monotonic() < give_up:
        with contextlib.suppress(OSError):
            socket.create_connection(("127.0.0.1", port)).close()
            return
        time.sleep(0.1)
    raise SystemExit(f"page_hammered: the page was not ready in {READY_SECONDS} s")


def signed_in(port: int) -> str:
    """The cookie of a session."""
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    form = urlencode({"name": WHO, "password": PASSWORD, "to": "/"})
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    link.request("POST", "/sign-in", form, kind)
    answer = link.getresponse()
    cookie = answer.getheader("Set-Cookie")
    if answer.status != 303 or cookie is None:
        raise SystemExit(f"page_hammered: nobody could sign in ({answer.status})")
    return cookie.partition(";")[0]


def hammer(port: int, cookie: str, clients: int, seconds: float) -> Block:
    """So many at once, for so long."""
    until = time.monotonic() + seconds
    counts: list[tuple[int, int]] = []

    def one(first: int) -> None:
        link = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        good = bad = 0
        while time.monotonic() < until:
            try:
                link.request(
                    "GET", ASKED[(first + good + bad) % len(ASKED)], headers={"Cookie": cookie}
                )
                answer = link.getresponse()
                answer.read()
                good, bad = (good + 1, bad) if answer.status == 200 else (good, bad + 1)
            except (OSError, http.client.HTTPException):
                bad += 1
                link.close()
        counts.append((good, bad))

    began = time.time_ns()
    threads = [threading.Thread(target=one, args=(number,)) for number in range(clients)]
    for thread in threads:
        thread.start()
    time.sleep(max(0.0, until - time.monotonic()))
    ended = time.time_ns()
    for thread in threads:
        thread.join()
    return Block(True, began, ended, sum(one[0] for one in counts), sum(one[1] for one in counts))


def rest(seconds: float) -> Block:
    """Nobody asks for anything."""
    began = time.time_ns()
    time.sleep(seconds)
    return Block(False, began, time.time_ns(), 0, 0)


def lateness(seen: Seen, first: int, seconds: int, block: Block) -> tuple[list[int], int]:
    """How late the edges were that were due in a block, in ns; and how many were not seen."""
    late, unseen = [], 0
    for number in range(seconds):
        begins = (first + number) * SECOND
        if not block.began <= begins <= block.ended - SECOND:
            continue
        pin = PINS["odd" if number % 2 else "even"]
        for edge in range(EDGES):
            found = seen.late(Edge(begins + edge * STROKE, pin, 1 - edge % 2), NEAR)
            if found is None:
                unseen += 1
            else:
                late.append(found)
    return late, unseen


def table(blocks: list[Block], found: list[tuple[list[int], int]]) -> Iterator[str]:
    """Both kinds of block, each as a row."""
    yield "            edges  not seen  median ms    99 % ms   worst ms  requests/s  failed"
    for hammered, name in ((False, "quiet"), (True, "hammered")):
        of = [n for n, block in enumerate(blocks) if block.hammered == hammered]
        late = sorted(one for n in of for one in found[n][0])
        spent = sum(blocks[n].ended - blocks[n].began for n in of) / SECOND
        figures = (statistics.median(late), late[int(len(late) * 0.99)], late[-1])
        yield (
            f"{name:<10} {len(late):6d} {sum(found[n][1] for n in of):9d} "
            + " ".join(f"{one / 1e6:10.2f}" for one in figures)
            + f" {sum(blocks[n].requests for n in of) / spent:11.0f}"
            + f" {sum(blocks[n].failed for n in of):7d}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--clients", type=int, default=20)
    parser.add_argument("--blocks", type=int, default=3, help="of each kind")
    parser.add_argument("--block-seconds", type=int, default=20)
    parser.add_argument("--slow-board", action="store_true", help="no real-time priority for it")
    given = parser.parse_args()
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        port = int(tried.getsockname()[1])
    first = int(time.time()) + READY_SECONDS
    seconds = 2 * given.blocks * (given.block_seconds + REST_SECONDS) + REST_SECONDS
    if time.gmtime(first).tm_yday != time.gmtime(first + seconds).tm_yday:
        raise SystemExit("page_hammered: midnight (UTC) is too near")
    blocks = []
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as runtime:
        (Path(folder) / "hammered.toml").write_text(house(first, seconds))
        with house_with_page(Path(folder), Path(runtime), port):
            hurried = not given.slow_board and hurry_board(Path(runtime))
            cookie = signed_in(port)
            time.sleep(max(0.0, first - time.time()))
            for _ in range(given.blocks):
                blocks.append(rest(given.block_seconds))
                time.sleep(REST_SECONDS)
                blocks.append(hammer(port, cookie, given.clients, given.block_seconds))
                time.sleep(REST_SECONDS)
            seen = seen_on(Path(runtime))
            found = [lateness(seen, first, seconds, block) for block in blocks]
            load = os.getloadavg()[0]
    print("\n".join(table(blocks, found)))
    board = "at real-time priority" if hurried else "at ordinary priority"
    print(f"{os.cpu_count()} cores, load {load:.1f} at the end, {given.clients} clients")
    print(f"the board ran {board}")


if __name__ == "__main__":
    main()
