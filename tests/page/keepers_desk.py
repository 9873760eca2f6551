"""A daemon's desk without an engine: files, previews, edits and the logbook are the real ones."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from controller.building.file import read
from controller.building.model import Building
from controller.building.values import WEEKDAYS
from controller.journal.logbook import LogbookEntry
from controller.journal.store import Store
from controller.service.clerk import Clerk
from controller.service.desk import Desk
from controller.service.files import Files
from controller.service.last_good import keep_last_good
from controller.service.order_server import OrderServer, Reply
from controller.service.order_wire import SOCKET
from controller.service.orders import Words

MOST_SECONDS = 5.0
MON_TO_SUN = "".join(f'{day} = "daily"\n' for day in WEEKDAYS)
HOUSE = f"""# Elm House, all of it invented.
[building]
name = "Elm House"
timezone = "Etc/UTC"   # so that no clock changes here

[zones.north]
title = "North wing"
relay = 17
[zones.south]
relay = 27

[quiet]
south = ["sun night"]  # the caretaker sleeps

[plans.daily]
rings = [
  {{ at = "08:30", zones = ["north", "south"], for = "5s", says = "First class" }},  # loud
  {{ at = "23:59:59", zones = ["north"], for = "2s" }},
]
[plans.short]
rings = [{{ at = "10:00", zones = ["*"], strokes = [1, 0.5, 1] }}]

[week]
{MON_TO_SUN}
[[calendar]]
on = "2030-01-01"
plan = "none"
says = "New year"   # a comment to be kept
"""


class KeepersDaemon:
    """A socket in a folder, and behind it the daemon's own desk; `heard` is what it was told."""

    def __init__(self, path: Path, runtime: Path, state: Path) -> None:
        self.path, self.runtime = path, runtime
        self.heard: list[str] = []
        self.notes: list[tuple[str, str]] = []  # who, what
        self._closed = False
        self.faults: list[BaseException] = []
        self.building: Building = read(path)
        self.follow: tuple[tuple[str, str], ...] = ()
        keep_last_good(path, state)
        self._state_folder = state
        self.files = Files(
            path, state, self._running, self._take_up, lambda fault: None, self.noted
        )
        self.clerk = Clerk(self.faults.append)
        self._desk = Desk(self)  # type: ignore[arg-type]
        self._server = OrderServer(runtime / SOCKET, self, None, page=os.geteuid())
        self._server.start()

    def close(self) -> None:
        """Hang up, once; a fault of the clerk's is one of the test's."""
        if self._closed:
            return
        self._closed = True
        self._server.close(MOST_SECONDS)
        self.clerk.close(MOST_SECONDS)
        assert self.faults == []

    # ── what the socket asks ─────────────────────────────────────────────────────────────────

    def state(self) -> dict[str, Any]:
        """As much of a picture as these pages look at."""
        return {
            "building": self.building.name,
            "timezone": self.building.civil.key,
            "fingerprint": self.building.fingerprint,
            "follow": dict(self.follow),
            "well": True,
        }

    def give(self, words: Words, who: str, answered: Callable[[Reply], None]) -> None:
        """As the daemon's desk; and it is written down."""
        self.heard.append(words.order)
        self._desk.give(words, who, answered)

    # ── what the desk asks ───────────────────────────────────────────────────────────────────

    @property
    def engine(self) -> SimpleNamespace:
        """Only what it runs."""
        return SimpleNamespace(building=self.building)

    @property
    def journal(self) -> SimpleNamespace:
        """Only the logbook. A store is for one thread: opened for each reading."""
        return SimpleNamespace(read_logbook=self._read_logbook)

    def keep(self, records: list[Any]) -> None:
        """Put records into the store."""
        with closing(Store(self._state_folder / "store.sqlite")) as store:
            store.commit(records)

    def _read_logbook(self, since: int, until: int, most: int) -> list[LogbookEntry]:
        with closing(Store(self._state_folder / "store.sqlite")) as store:
            return store.logbook(since, until, most)

    def noted(self, who: str, text: str) -> None:
        """What the logbook would tell."""
        self.notes.append((who, text))

    def _running(self) -> tuple[Building, Any]:
        return self.building, SimpleNamespace(follow=self.follow)

    def _take_up(self, building: Building) -> str:
        keep_last_good(self.path, self._state_folder)
        self.building = building
        return "The file is reloaded."

    def reload(self) -> None:
        """Take the file as it lies there."""
        self.files.reload("", "keeper")

    def follows(self, on: date, plan: str) -> None:
        """A date follows another plan by order."""
        self.follow = ((on.isoformat(), plan),)
