"""An edit through the page of a real daemon on the fake board: the bell rings as it says."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from keepers import Keeper
from keepers_desk import HOUSE

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.lines import PinsFault
from controller.service.order_client import NoDaemon, OrderClient

PATIENT_SECONDS = 40.0
AHEAD_SECONDS = 8
NORTH = ("pin", "GPIO17")


def wait(until: Callable[[], bool], what: str) -> None:
    """Until it is so; a while at most."""
    deadline = time.monotonic() + PATIENT_SECONDS
    while not until():
        assert time.monotonic() < deadline, what
        time.sleep(0.05)


class Run:
    """A daemon of Elm House."""

    def __init__(self, path: Path, runtime: Path, state: Path) -> None:
        self.path, self.runtime, self.state = path, runtime, state
        understudy = str(Path(sys.executable).with_name("understudy"))
        folders = ["--state", str(state), "--runtime", str(runtime)]
        self.process = subprocess.Popen(
            [understudy, "run", str(path), "--fake", "--as-if-right", *folders],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def ask(self, order: str, **keys: Any) -> dict[str, Any]:
        with OrderClient(self.runtime, PATIENT_SECONDS) as client:
            return client.ask(order, **keys)

    def trusted(self) -> bool:
        with suppress(NoDaemon):
            return bool(self.ask("status")["state"]["clock"]["trusted"])
        return False

    def bell(self) -> list[int]:
        """Each change of the north wing's relay, as the board saw it."""
        with BoardClient(self.runtime / "board.sock") as board:
            return [change.to for change in board.log() if (change.what, change.name) == NORTH]

    def close(self) -> None:
        """The daemon ends, and its board, which would outlive it."""
        self.process.terminate()
        self.process.wait(20)
        with suppress(PinsFault), BoardClient(self.runtime / "board.sock") as board:
            board.end()


@pytest.fixture
def daemon(tmp_path: Path, house_folder: Path) -> Iterator[Run]:
    """In the place of the desk without an engine."""
    (tmp_path / "state").mkdir()
    file = tmp_path / "elm-house.toml"
    file.write_text(HOUSE)
    run = Run(file, house_folder, tmp_path / "state")
    try:
        wait(run.trusted, "the daemon never trusted its clock")
        yield run
    finally:
        run.close()


@pytest.fixture
def house_folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("r")


def rang(daemon: Run) -> list[dict[str, Any]]:
    entries = daemon.ask("logbook")["entries"]
    return [one for one in entries if one["kind"] == "sounding" and one["text"] == "By the page"]


def test_a_ring_added_on_the_page_rings_is_logged_and_is_undone_to_the_same_bytes(keeper, daemon):
    assert isinstance(keeper, Keeper)
    at = datetime.now(UTC) + timedelta(seconds=AHEAD_SECONDS)
    page = keeper.opens("/edit/plan/daily")
    fields = {"at": f"{at:%H:%M:%S}", "zones": ["north"], "for": "1", "says": "By the page"}
    shown = keeper.sends(page, "/edit/plan/daily/add", **fields)
    saved = keeper.sends(shown, "/edit/save")
    assert "The file is reloaded." in saved.words
    wait(lambda: [one["how"] for one in rang(daemon)] == ["done"], "it never rang")
    (ring,) = rang(daemon)
    assert ring["zone"] == "north"
    assert abs(ring["at"] / 1e9 - at.replace(microsecond=0).timestamp()) < 1.0
    assert daemon.bell()[-2:] == [1, 0], "the relay closed and opened"
    logbook = keeper.opens("/logbook?kind=done&text=replaced")
    assert "elm-house.toml is replaced, and the version before it kept (ada)" in logbook.words
    back = keeper.sends(keeper.opens("/edit"), "/edit/undo")
    keeper.sends(back, "/edit/save")
    assert daemon.path.read_bytes().decode() == HOUSE
    assert daemon.ask("files")["files"] == {"elm-house.toml": HOUSE}
