"""Beech House at work: a real daemon, its hand and its fake board, and a real page before them."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from keepers import PASSWORD

from controller.building.values import WEEKDAYS
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.lines import PinsFault
from controller.service.order_client import NoDaemon, OrderClient

PATIENT_SECONDS = 30.0
ROLES = {"ada": "edit", "bo": "act", "cy": "look"}
NORTH, YARD, PLUS, MINUS, SUPPLY = 17, 27, 22, 23, 26
HOUSE = f"""# Beech House, all of it invented.
[building]
name = "Beech House"
timezone = "Etc/UTC"   # so that no clock changes here
[supply]
sense = {SUPPLY}

[zones.north]
title = "North wing"
relay = {NORTH}
[zones.yard]
relay = {YARD}
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [{PLUS}, {MINUS}]
impulse = "300ms"
gap = "300ms"

[quiet]
north = ["sun night"]

[plans.daily]
rings = [
  {{ at = "00:00:01", zones = ["north", "yard"], for = "2s", says = "Midnight" }},  # seldom
]
[plans.short]
rings = []

[week]
{"".join(f'{day} = "daily"' + chr(10) for day in WEEKDAYS)}
[[calendar]]
on = "2030-01-01"
plan = "none"
says = "New year"   # a comment to be kept
"""


class BeechHouse:
    """Its processes, and what can be seen of them from outside."""

    begun: Sequence[str] = ("--as-if-right",)
    dials = "right"  # as its line is when it has begun
    surroundings: Mapping[str, str] = {}

    def __init__(self, folder: Path, runtime: Path) -> None:
        self.file, self.runtime, self._folder = folder / "beech-house.toml", runtime, folder
        self.file.write_text(HOUSE)
        people = ["--people", str(folder / "people.toml")]
        self.daemon = self._starts_daemon()
        for name, role in ROLES.items():
            self._does("person", "add", name, "--role", role, *people, typed=PASSWORD)
        port = _free_port()
        self.address = f"http://127.0.0.1:{port}"
        self.page = self._starts(
            "page", str(self.file), "--fake", "--port", str(port), *people, *self._folders
        )
        try:
            self.wait(self._dials_are_as_begun)
            self.wait(self._page_answers)
        except BaseException:
            self.end()
            raise

    def end(self) -> None:
        """All of them end, each by itself."""
        for process in (self.page, self.daemon):
            process.terminate()
            process.wait(PATIENT_SECONDS)
        with contextlib.suppress(PinsFault), self.board() as board:
            board.end()

    def kill_daemon(self) -> None:
        """Nobody rings the bells from now on."""
        self.daemon.send_signal(signal.SIGKILL)
        self.daemon.wait(PATIENT_SECONDS)

    def start_daemon_again(self) -> None:
        """Once its hand has gone, too."""
        self.wait(lambda: not self._hand_is_there())
        self.daemon = self._starts_daemon()
        self.wait(self._dials_are_as_begun)

    # ── what is seen from outside ────────────────────────────────────────────────────────────

    def board(self) -> BoardClient:
        return BoardClient(self.runtime / "board.sock")

    def levels(self, pin: int) -> list[int]:
        """What the relay at a pin was told so far, in order."""
        with self.board() as board:
            return [c.to for c in board.log() if (c.what, c.name) == ("pin", f"GPIO{pin}")]

    def picture(self) -> dict[str, Any]:
        """The daemon's state."""
        with OrderClient(self.runtime, PATIENT_SECONDS) as daemon:
            state: dict[str, Any] = daemon.ask("status")["state"]
        return state

    def done_by(self, name: str) -> str:
        """What the logbook says that this person did, a line each."""
        with OrderClient(self.runtime, PATIENT_SECONDS) as daemon:
            entries = daemon.ask("logbook")["entries"]
        return "\n".join(f"{e['zone']} {e['text']}" for e in entries if e["by"] == name)

    def wait(self, what: Callable[[], Any]) -> None:
        """Look until it is so."""
        give_up = time.monotonic() + PATIENT_SECONDS
        while time.monotonic() < give_up:
            with contextlib.suppress(PinsFault, NoDaemon):
                if what():
                    return
            time.sleep(0.02)
        raise AssertionError(f"not within {PATIENT_SECONDS} s")

    # ── processes ────────────────────────────────────────────────────────────────────────────

    @property
    def _folders(self) -> list[str]:
        return ["--state", str(self._folder), "--runtime", str(self.runtime)]

    def _does(self, *command: str, typed: str) -> None:
        subprocess.run(
            [_understudy(), *command], input=typed + "\n", text=True, check=True, timeout=60
        )

    def _starts(self, *command: str) -> subprocess.Popen[bytes]:
        with (self._folder / f"{command[0]}.log").open("ab") as said:
            surroundings = {**os.environ, **self.surroundings}
            return subprocess.Popen(
                [_understudy(), *command], stdout=said, stderr=said, env=surroundings
            )

    def _starts_daemon(self) -> subprocess.Popen[bytes]:
        return self._starts("run", str(self.file), "--fake", *self.begun, *self._folders)

    def _dials_are_as_begun(self) -> bool:
        return bool(self.picture()["lines"]["main"]["state"] == self.dials)

    def _page_answers(self) -> bool:
        with contextlib.suppress(OSError), urllib.request.urlopen(f"{self.address}/sign-in"):
            return True
        return False

    def _hand_is_there(self) -> bool:
        with self.board() as board:
            return [c.to for c in board.log() if c.what == "holder"][-1:] != [0]


class NewHouse(BeechHouse):
    """As on its first day: nobody vouches for the clock, and nobody has read the dials."""

    begun = ()
    dials = "unread"
    surroundings: Mapping[str, str] = {"PYTHONPATH": str(Path(__file__).with_name("unvouched"))}


def _understudy() -> str:
    return str(Path(sys.executable).with_name("understudy"))


def _free_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])
