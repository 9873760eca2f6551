"""A real bench, a real hand and a real fake board, in folders of their own."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.record import Change
from controller.circuits.fakeboard.spawning import start_or_find

PATIENT_SECONDS = 30.0
HOUSE = """
[building]
name = "Thistle House"
timezone = "America/Halifax"
[supply]
sense = 26
[zones.north]
title = "North wing"
relay = 17
sense = 24
[zones.south]
relay = 27
active = "low"
sense = 5
[zones.yard]
relay = 18
sense = 6
[zones.gong]
relay = 19
sense = 7
[lines.main]
drive = "alternating"
relays = [22, 23]
sense = [10, 11]
impulse = "800ms"
gap = "200ms"
[panel.north_button]
pin = 20
does = "ring"
zones = ["north"]
[panel.yard_off]
pin = 21
does = "quiet"
zones = ["yard"]
[health]
relay = 25
"""
OPEN = {17: 0, 27: 1, 18: 0, 19: 0, 22: 0, 23: 0, 25: 0}  # pin → its inactive level


class BenchAtWork:
    """One run of `understudy bench` on a board of its own."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "house.toml"
        self.file.write_text(HOUSE)
        self.runtime = folder / "run"
        self.state = folder / "state"
        for made in (self.runtime, self.state):
            made.mkdir()
        self.said = b""
        self.process: subprocess.Popen[bytes] | None = None
        self.terminal = -1
        start_or_find(self.file, self.runtime)

    def command(self, *words: str) -> list[str]:
        """As a user would give it."""
        understudy = str(Path(sys.executable).with_name("understudy"))
        folders = ["--state", str(self.state), "--runtime", str(self.runtime)]
        return [understudy, "bench", str(self.file), *words, "--fake", "--by", "Ida", *folders]

    def run(self, *words: str) -> int:
        """Unattended, to its end; its exit code."""
        done = subprocess.run(
            self.command(*words, "--unattended"), capture_output=True, check=False, timeout=60
        )
        self.said = done.stdout + done.stderr
        return done.returncode

    def start(self, *words: str) -> None:
        """Unattended, in the background."""
        self.process = subprocess.Popen(
            self.command(*words, "--unattended"),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def start_on_terminal(self, *words: str) -> None:
        """With somebody at a terminal, whose lines `type` gives."""
        self.terminal, theirs = pty.openpty()
        self.process = subprocess.Popen(
            self.command(*words),
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            preexec_fn=lambda: _take_terminal(theirs),  # one thread here
        )
        os.close(theirs)

    def read_until(self, words: str, seconds: float = PATIENT_SECONDS) -> None:
        """Read the terminal until these words have come, after those of the last time."""
        give_up = time.monotonic() + seconds
        self.said = b""
        while words.encode() not in self.said:
            ready, _, _ = select.select([self.terminal], [], [], give_up - time.monotonic())
            assert ready, f"{words!r} did not come; it said:\n{self.said.decode()}"
            self.said += os.read(self.terminal, 65_536)

    def answer(self, question: str, line: str) -> None:
        """Type a line once the question stands there."""
        self.read_until(question)
        time.sleep(0.05)  # what is typed before the question is ready for it is thrown away
        os.write(self.terminal, f"{line}\n".encode())

    def close_terminal(self) -> None:
        os.close(self.terminal)
        self.terminal = -1

    def board(self) -> BoardClient:
        return BoardClient(self.runtime / "board.sock")

    def wait(self, what: Callable[[], Any], seconds: float = PATIENT_SECONDS) -> Any:
        give_up = time.monotonic() + seconds
        while not (found := what()):
            assert time.monotonic() < give_up, f"not within {seconds} s"
            time.sleep(0.005)
        return found

    def closed(self, relay: str) -> bool:
        """Whether its contact is closed."""
        with self.board() as board:
            return any(r["closed"] for r in board.state()["relays"] if r["name"] == relay)

    def has_closed(self, relay: str) -> int:
        """How many times."""
        return sum(c.what == "contact" and c.name == relay and c.to for c in self.log())

    def levels(self) -> dict[int, int]:
        with self.board() as board:
            return {relay["pin"]: relay["level"] for relay in board.state()["relays"]}

    def log(self) -> list[Change]:
        with self.board() as board:
            return board.log()

    def open_after(self, since_mono: int, seconds: float) -> float:
        """Wait until all relays are open; how long that was after an instant, s."""
        self.wait(lambda: self.levels() == OPEN, seconds + PATIENT_SECONDS)
        moves = [c.mono for c in self.log() if c.what == "pin" and c.mono > since_mono]
        return (moves[-1] - since_mono) / 1e9

    def held(self) -> bool:
        """Whether somebody holds the pins."""
        holders = [c.to for c in self.log() if c.what == "holder"]
        return bool(holders) and bool(holders[-1])

    def record(self) -> dict[str, Any]:
        (file,) = (self.state / "bench").glob("*.json")
        record: dict[str, Any] = json.loads(file.read_text())
        return record

    def results(self) -> dict[tuple[str, str], dict[str, Any]]:
        return {(one["test"], one["what"]): one for one in self.record()["results"]}


def _take_terminal(descriptor: int) -> None:
    """Be the session whose terminal this is, so that its closing is told by SIGHUP."""
    import fcntl
    import termios

    fcntl.ioctl(descriptor, termios.TIOCSCTTY, 0)
