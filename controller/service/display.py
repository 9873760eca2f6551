"""The terminal of `run --fake`: zones, lines, what comes next as it is now, and what happened.

It is drawn in place. Where there is no terminal, what happens is printed line by line.
"""

from __future__ import annotations

from collections import deque
from datetime import datetime
from typing import TYPE_CHECKING, Any

from rich.console import Console, Group
from rich.live import Live
from rich.table import Table
from rich.text import Text

from controller.service.daemon import Daemon

if TYPE_CHECKING:
    from rich.console import RenderableType

MOST_HAPPENED = 12
COMING = 4
_REFRESH_SECONDS = 0.5


def watch(daemon: Daemon) -> None:
    """Show what happens until the process ends."""
    happened: deque[str] = deque(maxlen=MOST_HAPPENED)
    daemon.say = lambda text: happened.extend(text.splitlines())
    with Live(console=Console(), auto_refresh=False) as live:
        while not daemon.ending:
            live.update(_drawn(daemon.picture(), list(happened)), refresh=True)
            daemon.changed.wait(_REFRESH_SECONDS)
            daemon.changed.clear()


def _drawn(picture: dict[str, Any], happened: list[str]) -> RenderableType:
    at = datetime.fromisoformat(picture["at"])
    head = Text(f"{picture['building'] or 'Understudy'}   {at:%A %d %B %Y  %H:%M:%S}", style="bold")
    if not picture["clock"]["trusted"]:
        head.append("   the clock is not trusted: nothing moves by itself", style="bold red")
    standing = _table()
    for kind in ("zone", "line"):
        for name, one in picture[f"{kind}s"].items():
            style = "bold" if one["state"] == "sounding" else ""
            standing.add_row(kind, name, Text(one["title"]), Text(one["says"], style=style))
    for fault in picture["faults"]:
        style = "" if fault["until"] else "bold red"
        standing.add_row("fault", Text(fault["name"]), "", Text(fault["says"], style=style))
    coming = _table()
    for ring in picture["next"][:COMING]:
        due = datetime.fromisoformat(ring["at"])
        away = int((due - at).total_seconds())
        minutes = f"in {away // 60} min {away % 60} s"
        coming.add_row(f"{due:%a %H:%M:%S}", ring["zone"], Text(ring["says"]), minutes)
    return Group(
        head,
        Text(),
        standing,
        Text("\nnext", style="bold"),
        coming,
        Text("\nhappened", style="bold"),
        Text("\n".join(happened)),
    )


def _table() -> Table:
    return Table(box=None, pad_edge=False, show_header=False, padding=(0, 2))
