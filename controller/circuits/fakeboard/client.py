"""Speaking to the fake board."""

from __future__ import annotations

import json
import socket
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from controller.circuits.fakeboard.record import Change
from controller.circuits.lines import PinsFault

_ANSWER_SECONDS = 5.0


class BoardClient:
    """One connection. Every method raises `PinsFault` where the board says no or is gone."""

    def __init__(self, path: Path) -> None:
        self._link = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._link.settimeout(_ANSWER_SECONDS)
        try:
            self._link.connect(str(path))
        except OSError as fault:
            self._link.close()
            raise PinsFault(
                f"No fake board answers at {path} ({fault.strerror or fault}). "
                "`understudy run PATH --fake` starts one."
            ) from None
        self._buffer = b""

    def __enter__(self) -> BoardClient:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Part from the board; lines held here keep their last level."""
        self._link.close()

    def ask(self, **words: Any) -> dict[str, Any]:
        """Say one thing and wait for the answer."""
        try:
            self._link.sendall(json.dumps(words).encode() + b"\n")
            while b"\n" not in self._buffer:
                data = self._link.recv(1 << 20)
                if not data:
                    raise PinsFault("The fake board is gone.")
                self._buffer += data
        except OSError as fault:
            raise PinsFault(f"The fake board does not answer: {fault}") from None
        line, self._buffer = self._buffer.split(b"\n", 1)
        answer: dict[str, Any] = json.loads(line)
        if not answer["ok"]:
            raise PinsFault(f"The fake board refuses: {answer['says']}")
        return answer

    def claim(self, outputs: Mapping[int, bool]) -> None:
        self.ask(do="claim", outputs=dict(outputs))

    def set_levels(self, levels: Mapping[int, bool]) -> None:
        self.ask(do="set", levels=dict(levels))

    def open_all(self, levels: Mapping[int, bool]) -> None:
        self.ask(do="open", levels=dict(levels))

    def press(self, name: str) -> None:
        self.ask(do="press", name=name)

    def let_go(self, name: str) -> None:
        self.ask(do="let_go", name=name)

    def supply(self, there: bool) -> None:
        self.ask(do="supply", there=there)

    def fault(self, relay: str, fault: str, ms: int = 0) -> None:
        self.ask(do="fault", name=relay, fault=fault, ms=ms)

    def mend(self, relay: str) -> None:
        self.ask(do="mend", name=relay)

    def swap(self, line: str) -> None:
        self.ask(do="swap", line=line)

    def set_dials(self, line: str, shown: int, took: Literal["+", "-"]) -> None:
        self.ask(do="dials", line=line, shown=shown, took=took)

    def state(self) -> dict[str, Any]:
        state: dict[str, Any] = self.ask(do="state")["state"]
        return state

    def log(self, since: int = 0) -> list[Change]:
        """Every change after number `since`."""
        changes: list[Change] = []
        while rows := self.ask(do="log", since=since)["log"]:
            changes += [Change(*row) for row in rows]
            since = changes[-1].number
        return changes

    def end(self) -> None:
        self.ask(do="end")
