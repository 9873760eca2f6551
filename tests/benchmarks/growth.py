"""P7: what a building of 20 relays and 10,000 rings a day costs more than the demo.

    python tests/benchmarks/growth.py [--rounds N] [--seconds S] [--folder WHERE]

The demo is `config/marrow-lane`. The large building is generated: 17 zones, an alternating line and
a single one, a supply of which they draw, and 10,000 rings a day, a ring of several zones counted
in each. `understudy check` has to accept both.

- Start and memory: each in turn, once a round, with a store just begun, and with one that
  has the rings of two days (20,000 soundings of the large building, as many as a start reads,
  and some hundred of the demo). The fake board runs already. A start lasts from the exec of
  `understudy run` until the hand holds its pins, by the board's record; memory is the proportional
  share (PSS) of daemon and hand together, some seconds later.
- Edges: both at once on a board each, for so many seconds a round. The demo rings one zone in each
  even second, for which a plan of today's date is added to it; the large building one zone in each
  odd one, and all 17 at once in every tenth. Lateness is that of the first edge of a ring; the
  spread of a ring of all zones is the time from the first relay's edge to the last one's.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from datetime import datetime
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from daemon_at_work import (
    READY_SECONDS,
    SECOND,
    UNDERSTUDY,
    Edge,
    Seen,
    daemon_command,
    end_board,
    every_day,
    hand_of,
    hurry_board,
    running,
    seen_on,
    wait_until_trusted,
)
from rows import OURS, Figure, Goal, Row, show, spread

from controller.building.file import read
from controller.circuits.fakeboard.client import BoardClient
from controller.engine.records import SoundingRow, Stamp
from controller.journal.store import Store
from controller.timekeeping.kernel import boot_id
from controller.timetable.days import Timetable
from controller.timetable.rings import Ring

DEMO = Path(__file__).parents[2] / "config" / "marrow-lane"
DEMO_PLACE = "America/Halifax"
DEMO_PIN = 27  # of its gong
ZONES = {f"hall-{number}": 9 + number for number in range(17)}
RINGS = 10_000  # a day
TOGETHER = 170  # seconds from one ring of all zones to the next, through the day
TOGETHER_MEASURED = 10  # and while edges are measured
NEAR = 400_000_000  # ns
DAYS = 2  # of rings in a store that has some
SETTLED_SECONDS = 4  # after a start, before memory is read
THE_DEMO, LARGE = "the demo", f"{OURS}, large"


Starts = list[tuple[float, float]]  # how long each took, and memory


class House(NamedTuple):
    """A building's files and folders."""

    name: str
    file: Path
    state: Path
    runtime: Path

    @property
    def command(self) -> list[str]:
        """Its daemon."""
        return daemon_command(self.file, self.state, self.runtime)


# ── the buildings ────────────────────────────────────────────────────────────────────────────


def large(measured: range) -> str:
    """The large building's file; in these seconds of the day (UTC) it rings for the figures."""
    together = {second for second in range(0, 86_400, TOGETHER) if second not in measured}
    together |= {second for second in measured if second % TOGETHER_MEASURED == 1}
    alone = {second for second in measured if second % 2 and second not in together}
    left = RINGS - len(together) * len(ZONES) - len(alone)
    free = sorted(set(range(86_400)) - set(measured) - together)
    alone |= {free[number * len(free) // left] for number in range(left)}
    rings = [(second, '"*"') for second in together]
    names = list(ZONES)
    rings += [(second, f'"{names[second // 2 % len(names)]}"') for second in alone]
    told = "\n".join(
        f'{{ at = "{time.strftime("%H:%M:%S", time.gmtime(at))}", zones = [{who}], for = "0.2s" }},'
        for at, who in sorted(rings)
    )
    zones = "".join(
        f"[zones.{name}]\nrelay = {pin}\nbells = 2\namps_each = 0.2\n"
        for name, pin in ZONES.items()
    )
    lines = (
        '[lines.main]\ndrive = "alternating"\nrelays = [26, 27]\ndials = 40\namps_each = 0.01\n'
        '[lines.yard]\ndrive = "single"\nrelays = 5\nactive = "low"\nevery = "30s"\n'
        "dials = 4\namps_each = 0.01\n"
    )
    return (
        '[building]\nname = "Large"\ntimezone = "Etc/UTC"\n[supply]\nvolts = 24.0\namps = 8.0\n'
        f"{zones}{lines}[plans.daily]\nrings = [\n{told}\n]\n{every_day('daily')}"
    )


def with_rings(demo: Path, first: int, seconds: int) -> None:
    """Have a copy of the demo ring its gong in each even second of these (utc), today."""
    place = ZoneInfo(DEMO_PLACE)
    times = [
        datetime.fromtimestamp(first + n, place) for n in range(seconds) if not (first + n) % 2
    ]
    told = "\n".join(
        f'{{ at = "{at:%H:%M:%S}", zones = ["gong"], strokes = [0.2] }},' for at in times
    )
    with (demo / "20-timetable.toml").open("a") as file:
        file.write(
            f'\n[plans.measured]\nrings = [\n{told}\n]\n[[calendar]]\non = "{times[0]:%Y-%m-%d}"\n'
        )
        file.write('plan = "measured"\nlift_quiet = true\n')


def accepted(house: House) -> None:
    """`understudy check` has to find no fault."""
    check = [UNDERSTUDY, "check", str(house.file)]
    found = subprocess.run(check, capture_output=True, text=True, check=False)
    if found.returncode:
        raise SystemExit(f"growth: {house.name} is not accepted:\n{found.stdout}{found.stderr}")


# ── start and memory ─────────────────────────────────────────────────────────────────────────


def started(house: House) -> tuple[float, float]:
    """How long a start takes (ms), and what daemon and hand have then (MB)."""
    with BoardClient(house.runtime / "board.sock") as board:
        since = board.state()["last_change"]
        board.follow(since)
        begun = time.time_ns()
        with running(house.command) as daemon:
            held = board.wait_for(lambda c: c.what == "holder" and bool(c.to), READY_SECONDS)
            wait_until_trusted(house.runtime)
            time.sleep(SETTLED_SECONDS)
            memory = sum(map(share, (daemon.pid, hand_of(daemon.pid))))
    return (held.utc - begun) / 1e6, memory


def starts(houses: list[House], rounds: int) -> list[Starts]:
    """Of each house, in turn."""
    found: list[Starts] = [[] for _ in houses]
    for _ in range(rounds):
        for house, measures in zip(houses, found, strict=True):
            measures.append(started(house))
    return found


def live(house: House, days: int) -> None:
    """Put into its store what so many days of its timetable would have."""
    now, mono = time.time_ns(), time.monotonic_ns()
    table = Timetable(read(house.file))
    rings = list(table.window(now - days * 86_400 * SECOND, now - 60 * SECOND))
    with closing(Store(house.state / "store.sqlite")) as store:
        stamp = next(record for record in store.load() if isinstance(record, Stamp))
        last = stamp._replace(utc=now, mono=mono, next_play=stamp.next_play + len(rings))
        for place in range(0, len(rings), 500):
            some = enumerate(rings[place : place + 500], stamp.next_play + place)
            store.commit([last, *(given(play, ring, now - mono) for play, ring in some)])


def given(play: int, ring: Ring, ahead: int) -> SoundingRow:
    """A ring as it is kept that was given on the dot."""
    edges = tuple(edge for closing in ring.closings for edge in closing)
    when = ring.due, ring.due, ring.due - ahead, boot_id()
    return SoundingRow(play, ring.zone, *when, edges, (ring.written,), ring.says, "", "done")


def share(process: int) -> float:
    """A process's proportional share of memory, in MB."""
    for line in Path(f"/proc/{process}/smaps_rollup").read_text().splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1]) * 1024 / 1e6
    raise SystemExit("growth: this kernel does not tell a process's share of memory")


# ── edges ────────────────────────────────────────────────────────────────────────────────────


class Edges(NamedTuple):
    """What was seen, in ms."""

    demo: list[float]
    alone: list[float]  # a ring of one zone of the large building
    together: list[float]  # of all its zones: the first relay's
    spread: list[float]


def rung(houses: list[House], first: int, seconds: int, found: Edges) -> None:
    """Let both run and ring from `first` (utc) on."""
    with ExitStack() as ends:
        for house in houses:
            ends.enter_context(running(house.command))
        for house in houses:
            wait_until_trusted(house.runtime)
            hurry_board(house.runtime)
        time.sleep(max(0.0, first + seconds - time.time()))
    demo, grown = (seen_on(house.runtime) for house in houses)
    for second in range(first + 2, first + seconds - 2):
        if second % 2 == 0:
            found.demo.extend(_late(demo, second, [DEMO_PIN]))
        elif second % TOGETHER_MEASURED != 1:
            pin = list(ZONES.values())[second % 86_400 // 2 % len(ZONES)]
            found.alone.extend(_late(grown, second, [pin]))
        else:
            late = _late(grown, second, list(ZONES.values()))
            if len(late) < len(ZONES):
                raise SystemExit(f"growth: {len(ZONES) - len(late)} zones did not ring with all")
            found.together.append(min(late))
            found.spread.append(max(late) - min(late))


def _late(seen: Seen, second: int, pins: list[int]) -> list[float]:
    late = (seen.late(Edge(second * SECOND, pin, 1), NEAR) for pin in pins)
    return [one / 1e6 for one in late if one is not None]


# ── all of it ────────────────────────────────────────────────────────────────────────────────


def rows(rounds: int = 7, seconds: int = 120, folder: Path | None = None) -> Iterator[Row]:
    """Measure. With what is set it takes some five minutes."""
    with ExitStack() as ends:
        root = Path(ends.enter_context(tempfile.TemporaryDirectory(dir=folder)))
        houses = [_house(root, name, ends) for name in ("demo", "large")]
        begun = int(time.time())
        houses[1].file.write_text(large(range(0)))
        for house in houses:
            accepted(house)
            with running(house.command):  # so that board and store are there
                wait_until_trusted(house.runtime)
        begun_stores = starts(houses, rounds)
        for house in houses:
            live(house, DAYS)
        lived_stores = starts(houses, rounds)
        first = int(time.time()) + READY_SECONDS
        if begun // 86_400 != (first + seconds) // 86_400:
            raise SystemExit("growth: midnight (UTC) is too near")
        with_rings(houses[0].file, first, seconds)
        day = first % 86_400
        houses[1].file.write_text(large(range(day, day + seconds)))
        for house in houses:
            accepted(house)
        edges = Edges([], [], [], [])
        rung(houses, first, seconds, edges)
    yield from started_rows("", begun_stores)
    yield from started_rows(f", {DAYS} days' rings stored", lived_stores)
    yield from edge_rows(edges)


def _house(root: Path, name: str, ends: ExitStack) -> House:
    runtime = Path(ends.enter_context(tempfile.TemporaryDirectory()))
    ends.callback(end_board, runtime)
    (root / name).mkdir()
    file = root / name / ("house" if name == "demo" else "house.toml")
    if name == "demo":
        shutil.copytree(DEMO, file)
    return House(name, file, root / name / "state", runtime)


def started_rows(stored: str, measures: list[Starts]) -> Iterator[Row]:
    """Of starts and memory: the demo's, then the large building's."""
    what = ("start to relays under control", "ms", 1.5), ("daemon and hand", "MB", 1.2)
    for place, (subject, unit, times) in enumerate(what):
        demo, grown = (spread([one[place] for one in found], unit) for found in measures)
        goal = Goal(times * demo[0].value, f"≤ {times} × {THE_DEMO}")
        yield Row("P7", subject + stored, LARGE, grown, goal)
        yield Row("P7", subject + stored, THE_DEMO, demo)


def edge_rows(edges: Edges) -> Iterator[Row]:
    """Of edges."""
    demo = spread(edges.demo, "ms")
    goal = Goal(1.2 * demo[0].value, f"≤ 1.2 × {THE_DEMO}")
    subject = "a ring's first edge, late"
    yield Row("P7", subject, LARGE, (*spread(edges.alone, "ms"), _count(edges.alone)), goal)
    yield Row("P7", subject, THE_DEMO, (*demo, _count(edges.demo)))
    all_at_once = (*spread(edges.together, "ms"), _count(edges.together))
    yield Row("P7", subject, f"{OURS}, all 17 zones at once", all_at_once)
    worst = Figure("worst", max(edges.spread), "ms")
    yield Row("P7", "all 17 zones' edges, first to last", LARGE, (worst,), Goal(1.0, "≤ 1 ms"))


def _count(values: list[float]) -> Figure:
    return Figure("", len(values), "rings")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--seconds", type=int, default=120, help="of ringing")
    parser.add_argument("--folder", type=Path, help="of the stores, on the disk to be used")
    given = parser.parse_args()
    show(rows(given.rounds, given.seconds, given.folder))


if __name__ == "__main__":
    main()
