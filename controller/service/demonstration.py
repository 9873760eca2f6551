"""What stands in for the house where there is none: the fake board, and dials that are right."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from controller.building.wiring import Wiring
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.circuits.lines import PinsFault
from controller.dials.position import true_position
from controller.engine.contract import Now
from controller.engine.records import LineRow
from controller.engine.wishes import SetLine

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.engine.state import State


class FakeBoard(NamedTuple):
    """The board that a daemon uses instead of pins."""

    socket: Path
    fresh: bool  # it was started for this daemon


def take_board(
    source: Path, runtime: Path, wiring: Wiring, speak: Callable[[str], None]
) -> FakeBoard:
    """A fake board that is wired as the file has it: the one that runs, or another.

    Raises `PinsFault`.
    """
    found = FakeBoard(*start_or_find(source, runtime))
    with BoardClient(found.socket) as board:
        if board.state()["wiring"] == wiring.to_json():
            return found
    speak("The fake board that ran is wired otherwise: another takes its place.")
    stop(found.socket)
    return FakeBoard(*start_or_find(source, runtime))


def put_fresh_dials(board: FakeBoard | None, row: LineRow) -> None:
    """A fake board that is new has the dials where the store left them, as walls would."""
    if board is not None and board.fresh and row.read:
        with BoardClient(board.socket) as link, contextlib.suppress(PinsFault):
            link.set_dials(row.line, row.shown, row.polarity)


def set_right(building: Building, state: State, now: Now, board: FakeBoard | None) -> list[SetLine]:
    """All lines that are unread are taken to be right, and the board's dials put so."""
    words = []
    for name, line in building.lines.items():
        if state.lines[name].row.read:
            continue
        shown = true_position(line, building.civil, now.utc)
        if board is not None:
            with BoardClient(board.socket) as link:
                link.set_dials(name, shown, "-")
        words.append(SetLine(name, shown, "-"))
    return words
