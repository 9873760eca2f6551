"""The terminal of `run --fake`: zones, lines, what comes next as it is now, and what happened.

On a terminal it is drawn in place; elsewhere what happens is printed line by line.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from itertools import islice
from typing import TYPE_CHECKING

from rich.console import Console, Group
from rich.live import Live
from rich.table import Table
from rich.text import Text

from controller.engine.contract import Now
from controller.engine.turn import timetable_of
from controller.service.daemon import Daemon
from controller.service.telling import line_words, zone_words

if TYPE_CHECKING:
    from rich.console import RenderableType

MOST_HAPPENED = 12
COMING = 4
_REFRESH_SECONDS = 0.5


def watch(daemon: Daemon) -> None:
    """Show what happens until the process ends."""
    if not sys.stdout.isatty():
        return
    happened: deque[str] = deque(maxlen=MOST_HAPPENED)
    daemon.say = lambda text: happened.extend(text.splitlines())
    with Live(console=Console(), auto_refresh=False) as live:
        while not daemon.ending:
            live.update(_picture(daemon, list(happened)), refresh=True)
            daemon.changed.wait(_REFRESH_SECONDS)
            daemon.changed.clear()


def _picture(daemon: Daemon, happened: list[str]) -> RenderableType:
    building, state = daemon.engine.building, daemon.engine.state
    trusted = daemon.trusted()
    now = Now(time.time_ns(), time.monotonic_ns(), state.boot, trusted)
    local = building.civil.aware(now.utc)
    head = Text(f"{building.name or 'Understudy'}   {local:%A %d %B %Y  %H:%M:%S}", style="bold")
    if not trusted:
        head.append("   the clock is not trusted: nothing moves by itself", style="bold red")
    table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2))
    for name, zone in building.zones.items():
        words = zone_words(building, state, name, now)
        style = "bold" if words.startswith("SOUNDING") else ""
        table.add_row("zone", name, zone.title, Text(words, style=style))
    for name, line in building.lines.items():
        words = line_words(building, name, state.lines[name], now)
        table.add_row("line", name, line.title, words)
    coming = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2))
    timetable = timetable_of(building, state.follow)
    for ring in islice(timetable.upcoming(now.utc), COMING):
        due = building.civil.aware(ring.due)
        away = (ring.due - now.utc) // 1_000_000_000
        coming.add_row(
            f"{due:%a %H:%M:%S}", ring.zone, ring.says, f"in {away // 60} min {away % 60} s"
        )
    return Group(
        head,
        Text(),
        table,
        Text("\nnext", style="bold"),
        coming,
        Text("\nhappened", style="bold"),
        Text("\n".join(happened)),
    )
