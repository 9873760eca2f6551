"""`understudy fake-board`: look at the fake board, work its buttons, and give it faults."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from controller.building.durations import MILLISECOND
from controller.building.file import read
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.picture import board_picture
from controller.circuits.fakeboard.record import Change
from controller.circuits.fakeboard.spawning import board_socket, start_or_find, stop
from controller.circuits.folders import fake_folder, make_folder
from controller.cli import local
from controller.cli.spoken import columns
from controller.pictures.spoken import clock_text

if TYPE_CHECKING:
    from controller.building.model import Building

_LONGEST_FAULT_NS = 60_000 * MILLISECOND
ACTIONS = (
    ("start", "start a board where none runs"),
    ("press INPUT, let-go INPUT", "close or open a contact: a button, a switch"),
    ("supply off, supply on", "take the 24 V away, or give it back"),
    ("fault RELAY slow DURATION", "its contact moves so much later"),
    ("fault RELAY stuck", "its contact never closes"),
    ("fault RELAY welded", "its contact never opens"),
    ("fault RELAY bouncing", "its contact bounces"),
    ("mend RELAY", "take its faults away"),
    ("swap LINE", "exchange the wires of + and −"),
    ("dials LINE=HH:MM[,+|-]", "put a line's dials by hand"),
    ("log", "every change, with its time"),
    ("end", "end the board"),
)


def fake_board(path: Path, words: Sequence[str], runtime: Path | None) -> None:
    """Do what `words` say on the board of the runtime folder; show it where they say nothing.

    Raises `PinsFault` where no board answers or it says no, `typer.BadParameter` where the words
    are none that it knows.
    """
    building = read(path)
    folder = runtime or fake_folder(path)
    match tuple(words):
        case ("start",):
            start_or_find(path.absolute(), make_folder(folder))
        case ("end",):
            stop(board_socket(folder))
            return
        case ("log",):
            with BoardClient(board_socket(folder)) as board:
                for line in _log(building, board.log()):
                    typer.echo(line)
            return
        case _ if words:
            work = _work(building, words)
            with BoardClient(board_socket(folder)) as board:
                work(board)
    with BoardClient(board_socket(folder)) as board:
        typer.echo(board_picture(board.state()))


def _work(building: Building, words: Sequence[str]) -> Callable[[BoardClient], None]:
    """What the words ask of a board. They are read before one is spoken to."""
    match tuple(words):
        case ("press", name):
            return lambda board: board.press(name)
        case ("let-go", name):
            return lambda board: board.let_go(name)
        case ("supply", "on" | "off" as whether):
            return lambda board: board.supply(whether == "on")
        case ("fault", relay, "slow", length):
            ms = local.duration(length, "ACTION", _LONGEST_FAULT_NS) // MILLISECOND
            return lambda board: board.fault(relay, "slow", ms)
        case ("fault", relay, "stuck" | "welded" | "bouncing" as fault):
            return lambda board: board.fault(relay, fault)
        case ("mend", relay):
            return lambda board: board.mend(relay)
        case ("swap", line):
            return lambda board: board.swap(line)
        case ("dials", text):
            ((line, (shown, took)),) = local.dials(building, [text]).items()
            return lambda board: board.set_dials(line, shown, took)
    known = "\n".join(columns(ACTIONS, indent=2))
    raise typer.BadParameter(f"{' '.join(words)!r} is none of these:\n{known}", param_hint="ACTION")


def _log(building: Building, changes: Sequence[Change]) -> Iterator[str]:
    rows = [
        (clock_text(building.civil, one.utc), one.what, one.name, str(one.to), one.says)
        for one in changes
    ]
    return columns(rows)
