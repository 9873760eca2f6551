"""A real daemon, a real hand and a real fake board, in folders of their own."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from controller.building.file import read
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.record import Change
from controller.circuits.lines import PinsFault
from controller.dials.position import true_position
from controller.engine.records import LineRow
from controller.journal.store import Store
from controller.service.order_client import NoDaemon, OrderClient

ZONE = "America/Halifax"
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
PATIENT_SECONDS = 30.0


class Installation:
    """One building under test: its file, its folders, and whoever runs it."""

    def __init__(self, folder: Path) -> None:
        self.zone = ZONE
        self.file = folder / "building.toml"
        self.state = folder / "state"
        self.runtime = folder / "run"
        self.state.mkdir()
        self.runtime.mkdir()
        self.said = folder / "said.txt"
        self.process: subprocess.Popen[bytes] | None = None

    def local(self, seconds_ahead: float) -> str:
        """A time of day, this far from now."""
        at = datetime.now(ZoneInfo(ZONE)) + timedelta(seconds=seconds_ahead)
        return at.strftime("%H:%M:%S")

    def write(self, rings: str = "", lines: str = "") -> None:
        """A building whose every day has these rings."""
        days = "".join(f'{day} = "daily"\n' for day in WEEK)
        self.file.write_text(
            f'[building]\ntimezone = "{ZONE}"\n'
            '[zones.north]\nrelay = 17\nlongest = "20s"\na_minute = "40s"\n'
            f"{lines}\n[plans.daily]\nrings = [{rings}]\n[week]\n{days}"
        )

    def dials_behind(self, line: str, positions: int) -> None:
        """Put into the store that a line's dials are so many positions behind."""
        building = read(self.file)
        of_line = building.lines[line]
        true = true_position(of_line, building.civil, time.time_ns())
        shown = (true - positions) % of_line.positions
        store = Store(self.state / "store.sqlite")
        row = LineRow(line, True, shown, of_line.positions, "-", False, False, None, 0)
        store.commit([row])
        store.close()

    def start(self) -> None:
        with self.said.open("ab") as said:
            self.process = subprocess.Popen(self.command(), stdout=said, stderr=said)

    def command(self) -> list[str]:
        """As a user would give it."""
        understudy = str(Path(sys.executable).with_name("understudy"))
        folders = ["--state", str(self.state), "--runtime", str(self.runtime)]
        return [understudy, "run", str(self.file), "--fake", "--as-if-right", *folders]

    def end(self) -> int:
        assert self.process is not None
        self.process.terminate()
        return self.process.wait(10)

    def kill_daemon(self, how: signal.Signals = signal.SIGKILL) -> None:
        assert self.process is not None
        self.process.send_signal(how)

    def kill_hand(self, how: signal.Signals = signal.SIGKILL) -> None:
        os.kill(self.hand_pid(), how)

    def hand_pid(self) -> int:
        assert self.process is not None
        children = ""
        for thread in Path(f"/proc/{self.process.pid}/task").iterdir():
            with contextlib.suppress(OSError):  # it has ended meanwhile
                children += " " + (thread / "children").read_text()
        for pid in children.split():
            if b"controller.circuits.hand" in Path(f"/proc/{pid}/cmdline").read_bytes():
                return int(pid)
        raise AssertionError("the daemon has no hand")

    def hand_pid_or_none(self) -> int | None:
        try:
            return self.hand_pid()
        except AssertionError:
            return None

    def board(self) -> BoardClient:
        return BoardClient(self.runtime / "board.sock")

    def ask(self, order: str, **keys: Any) -> str:
        """Give an order to the daemon; its words."""
        with OrderClient(self.runtime, 30.0) as daemon:
            return str(daemon.ask(order, **keys)["says"])

    def picture(self) -> dict[str, Any]:
        """The daemon's state."""
        with OrderClient(self.runtime, 30.0) as daemon:
            state: dict[str, Any] = daemon.ask("status")["state"]
        return state

    def logbook(self) -> list[str]:
        """Texts of the logbook's entries, and of what rang."""
        with OrderClient(self.runtime, 30.0) as daemon:
            entries = daemon.ask("logbook")["entries"]
        return [f"{e['kind']} {e['zone']} {e['text']} ({e['by']})" for e in entries]

    def started(self) -> None:
        """Start, and wait until orders are answered and the clock is trusted."""
        self.start()
        self.wait(self.answers)

    def answers(self) -> bool:
        try:
            return bool(self.picture()["clock"]["trusted"])
        except NoDaemon:
            return False

    def changes(self, what: str, name: str) -> list[Change]:
        """What the fake board saw of something."""
        with self.board() as board:
            return [c for c in board.log() if c.what == what and c.name == name]

    def relay(self, name: str) -> dict[str, Any]:
        with self.board() as board:
            (found,) = (one for one in board.state()["relays"] if one["name"] == name)
        return found

    def wait(self, what: Callable[[], Any], seconds: float = PATIENT_SECONDS) -> Any:
        """Look until it is so; a board that does not answer yet counts as not."""
        give_up = time.monotonic() + seconds
        while time.monotonic() < give_up:
            with contextlib.suppress(PinsFault):
                if found := what():
                    return found
            time.sleep(0.01)
        raise AssertionError(f"not within {seconds} s; it said:\n{self.said.read_text()}")


@pytest.fixture
def installation(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Installation]:
    here = Installation(tmp_path_factory.mktemp("i"))
    yield here
    if here.process is not None and here.process.poll() is None:
        here.process.kill()
        here.process.wait()
    with contextlib.suppress(PinsFault), here.board() as board:
        board.end()
