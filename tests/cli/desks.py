"""A desk in a daemon's place: it shows a picture, hears orders and answers in canned words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source
from controller.dials.position import position_of
from controller.engine.contract import Now
from controller.engine.records import LineRow
from controller.engine.recover import recover
from controller.engine.state import State
from controller.service.order_server import OrderServer, Reply
from controller.service.order_wire import SOCKET
from controller.service.orders import Words
from controller.service.picture import state_picture

SECOND = 1_000_000_000
MONO = 5_000 * SECOND
Answers = Callable[[dict[str, Any]], Reply]


def small_building(text: str) -> Building:
    return building_of("elm.toml", [Source("elm.toml", text.encode())])


def moment(building: Building, local: str = "2026-11-25T10:30:10", *, trusted: bool = True) -> Now:
    """A Wednesday morning between rings."""
    return Now(building.civil.instant(datetime.fromisoformat(local)), MONO, "boot", trusted)


def settled(building: Building, now: Now, shows: str = "10:30", **more: Any) -> State:
    """All is well, and each line is read and shows this."""
    rows = [
        LineRow(
            name,
            True,
            position_of(line, shows),
            line.positions,
            "-",
            False,
            False,
            None,
            now.utc - 10 * SECOND,
        )._replace(**more)
        for name, line in building.lines.items()
    ]
    return recover(building, rows, now)._replace(hand="hand-1")


class Desk:
    """What it was told stands in `heard`, without what was not said; `replies` are its answers."""

    def __init__(self, picture: dict[str, Any]) -> None:
        self.picture = picture
        self.heard: list[dict[str, Any]] = []
        self.replies: dict[str, Answers] = {}

    def state(self) -> dict[str, Any]:
        return self.picture

    def give(self, words: Words, who: str, answered: Callable[[Reply], None]) -> None:
        said = words.model_dump(by_alias=True, exclude_unset=True, exclude={"id"})
        self.heard.append(said)
        reply = self.replies.get(words.order, lambda said: Reply(True, f"{said['order']}: done."))
        answered(reply(said))


class FakeDaemon:
    """A socket as the daemon has it, with that desk behind it."""

    def __init__(self, runtime: Path, picture: dict[str, Any]) -> None:
        self.runtime = runtime
        self.desk = Desk(picture)
        self.server = OrderServer(runtime / SOCKET, self.desk, None)
        self.server.start()

    def shows(self, picture: dict[str, Any]) -> None:
        """From now on this is the state."""
        self.desk.picture = picture
        self.server.changed()

    def close(self) -> None:
        self.server.close(2.0)


def clock_words(now: Now, by: str = "kernel") -> dict[str, Any]:
    """What a picture says of the clock."""
    return {"trusted": now.trusted, "by": by, "error_seconds": None, "says": ""}


def small_picture(text: str, **more: Any) -> dict[str, Any]:
    """The picture of a small house in which all is well, at 10:30:10."""
    building = small_building(text)
    now = moment(building)
    return {**state_picture(building, settled(building, now), now, clock_words(now)), **more}
