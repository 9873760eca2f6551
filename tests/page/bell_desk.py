"""Elm Hall with bells and dials at the page: a desk in the daemon's place, and people signed in."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from keepers import PASSWORD, Keeper
from starlette.testclient import TestClient

from controller.building.file import read
from controller.dials.position import position_of
from controller.engine.contract import Now
from controller.engine.records import LineRow
from controller.engine.recover import recover
from controller.engine.state import State
from controller.page import asking
from controller.page.people import HASHER, KeptPerson, People, keep_people
from controller.page.settings import Settings
from controller.page.site import site
from controller.service.last_state import keep_last_state
from controller.service.order_server import OrderServer, Reply
from controller.service.order_wire import SOCKET
from controller.service.orders import Words
from controller.service.picture import state_picture

HALL = """
[building]
name = "Elm <Hall>"
timezone = "America/Halifax"
[zones.north]
title = "North & new wing"
relay = 17
[zones.south]
relay = 27
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [22, 23]
[lines.yard]
drive = "single"
relays = 24
[plans.daily]
rings = [
  { at = "08:30", zones = ["*"], for = "5s", says = "First <b>class" },
  { at = "12:00", zones = ["south"], for = "4s" },
]
[week]
wed = "daily"
thu = "daily"
"""
WEDNESDAY = 1_795_609_810 * 1_000_000_000  # 2026-11-25 08:30:10 in Halifax
SECOND = 1_000_000_000
ROLES = {"ada": "edit", "bo": "act", "cy": "look"}
_HASH = HASHER.hash(PASSWORD)  # once: it takes its time on purpose
_HREF = re.compile(r'<a [^>]*href="([^"]*)"')


class Hall:
    """A socket, a desk that writes down what was ordered in whose name, and the page before it."""

    def __init__(self, folder: Path, runtime: Path) -> None:
        self.folder = folder
        file = folder / "elm-hall.toml"
        file.write_text(HALL)
        self.building = read(file)
        self.given: list[tuple[str, dict[str, Any], str]] = []  # order, keys, who
        self.replies: dict[str, Reply] = {}
        self.picture = self.pictured()
        self._server: OrderServer | None = OrderServer(
            runtime / SOCKET, self, None, page=os.geteuid()
        )
        self._server.start()
        people = folder / "people.toml"
        kept = {name: KeptPerson(role=role, password=_HASH) for name, role in ROLES.items()}
        keep_people(people, People(people=kept))
        self.site = site(Settings(file, runtime, folder, people))

    def person(self, name: str) -> Keeper:
        """Somebody signed in, in a browser of their own."""
        return Keeper(TestClient(self.site), name)

    def stranger(self) -> TestClient:
        """A browser with nobody signed in."""
        return TestClient(self.site, follow_redirects=False)

    def known(self, *, trusted: bool = True, **lines: dict[str, Any]) -> State:
        """All is well, and the dials are right, save what is said of a line."""
        rows = []
        for name, line in self.building.lines.items():
            shown = position_of(line, "08:30")
            row = LineRow(
                name, True, shown, line.positions, "-", False, False, None, WEDNESDAY - 10 * SECOND
            )
            rows.append(row._replace(**lines.get(name, {})))
        return recover(self.building, rows, self.now(trusted=trusted))._replace(hand="hand-1")

    def now(self, *, trusted: bool = True) -> Now:
        return Now(WEDNESDAY, 5_000 * SECOND, "boot", trusted)

    def pictured(self, state: State | None = None, *, trusted: bool = True) -> dict[str, Any]:
        """The picture of a state on a Wednesday morning."""
        by = "kernel" if trusted else "nobody"
        clock = {"trusted": trusted, "by": by, "error_seconds": None, "says": ""}
        known = self.known() if state is None else state
        return state_picture(self.building, known, self.now(trusted=trusted), clock)

    def shows(self, picture: dict[str, Any]) -> None:
        """From now on this is the state."""
        self.picture = picture
        assert self._server is not None
        self._server.changed()

    def ends(self, last: dict[str, Any] | None = None) -> None:
        """The daemon goes away, and leaves this picture behind."""
        if self._server is not None:
            self._server.close(5.0)
            self._server = None
        if last is not None:
            keep_last_state(self.folder, last)

    # ── what the socket asks ─────────────────────────────────────────────────────────────────

    def state(self) -> dict[str, Any]:
        return self.picture

    def give(self, words: Words, who: str, answered: Callable[[Reply], None]) -> None:
        if words.order == "files":
            path = self.building_file()
            more = {"path": str(path), "files": {path.name: path.read_text()}}
            answered(Reply(True, "", {**more, "fingerprint": self.building.fingerprint}))
            return
        told = words.model_dump(by_alias=True, exclude_unset=True, exclude={"id", "who", "order"})
        self.given.append((words.order, told, who))
        answered(self.replies.get(words.order, Reply(True, f"Done: {words.order}.")))

    def building_file(self) -> Path:
        return self.folder / "elm-hall.toml"


@contextmanager
def halls(folder: Path) -> Iterator[Hall]:
    """Elm Hall, and whatever was seen of it is never taken as new."""
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as short:
        patch.setattr(asking, "FRESH_SECONDS", -1.0)
        hall = Hall(folder, Path(short))  # a socket's address is not long
        yield hall
        hall.ends()


def links(html: str) -> set[str]:
    """Where the links of a page go."""
    return {unescape(to) for to in _HREF.findall(html)}


def acts(html: str) -> set[str]:
    """Those that go to an act."""
    return {to for to in links(html) if to.startswith("/act/")}
