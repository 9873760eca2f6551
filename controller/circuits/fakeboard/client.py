"""Speaking to the fake board."""

from __future__ import annotations

import json
import socket
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, Literal

from controller.circuits.fakeboard.record import Change
from controller.circuits.lines import InputEdge, InputLine, PinsFault

_ANSWER_SECONDS = 5.0
_MOST_AT_ONCE = 1 << 20
MOST_EDGES = 1_024


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
        self._answers: deque[dict[str, Any]] = deque()
        self._edges: deque[InputEdge] = deque()
        self._changes: deque[Change] = deque()

    def __enter__(self) -> BoardClient:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Part from the board; lines held here keep their last level."""
        self._link.close()

    def fileno(self) -> int:
        """For select: readable while the board has something to say."""
        return self._link.fileno()

    def ask(self, **words: Any) -> dict[str, Any]:
        """Say one thing and wait for the answer."""
        give_up = time.monotonic() + _ANSWER_SECONDS
        try:
            self._link.settimeout(_ANSWER_SECONDS)
            self._link.sendall(json.dumps(words).encode() + b"\n")
        except ConnectionError:
            pass  # it hung up, and has perhaps said why
        except OSError as fault:
            raise PinsFault(f"The fake board does not answer: {fault}") from None
        while not self._answers:
            if not self._hear(give_up - time.monotonic()):
                raise PinsFault("The fake board does not answer: timed out")
        answer = self._answers.popleft()
        if not answer["ok"]:
            raise PinsFault(f"The fake board refuses: {answer['says']}")
        return answer

    # ── holding lines ────────────────────────────────────────────────────────────────────────────

    def claim(
        self, outputs: Mapping[int, bool], inputs: Mapping[int, InputLine] | None = None
    ) -> dict[int, bool]:
        """Hold lines from now on: outputs at these levels. The levels of the inputs."""
        listened = {pin: [line.active, line.debounce_ns] for pin, line in (inputs or {}).items()}
        answer = self.ask(do="claim", outputs=dict(outputs), inputs=listened)
        return _levels(answer)

    def set_levels(self, levels: Mapping[int, bool]) -> None:
        """Drive lines that are held here, at one instant."""
        self.ask(do="set", levels=dict(levels))

    def read(self, pins: Iterable[int]) -> dict[int, bool]:
        """Levels at pins."""
        return _levels(self.ask(do="read", pins=list(pins)))

    def edges(self) -> list[InputEdge]:
        """What the inputs held here did since last asked; does not wait. So many at once at most
        as a kernel keeps: whoever chatters holds nobody up.
        """
        self._hear(0.0)
        return [self._edges.popleft() for _ in range(min(len(self._edges), MOST_EDGES))]

    def has_edges(self) -> bool:
        """Whether edges were heard and not yet asked for: select does not tell of them."""
        return bool(self._edges)

    def open_all(self, levels: Mapping[int, bool]) -> None:
        """Drive lines that nobody holds."""
        self.ask(do="open", levels=dict(levels))

    # ── what a person does ───────────────────────────────────────────────────────────────────────

    def press(self, name: str) -> None:
        """Close the contact of a button or switch, by its name or pin."""
        self.ask(do="press", name=name)

    def let_go(self, name: str) -> None:
        """Open it."""
        self.ask(do="let_go", name=name)

    def supply(self, there: bool) -> None:
        """Give or take the 24 V."""
        self.ask(do="supply", there=there)

    def fault(self, relay: str, fault: str, ms: int = 0) -> None:
        """Make a relay slow (by `ms`), stuck, welded or bouncing; it is named, or its pin is."""
        self.ask(do="fault", name=relay, fault=fault, ms=ms)

    def mend(self, relay: str) -> None:
        """Take all faults from a relay."""
        self.ask(do="mend", name=relay)

    def swap(self, line: str) -> None:
        """Exchange the wires of a line's + and −."""
        self.ask(do="swap", line=line)

    def set_dials(self, line: str, shown: int, took: Literal["+", "-"]) -> None:
        """Put a line's dials to a position, the polarity that they took last being this."""
        self.ask(do="dials", line=line, shown=shown, took=took)

    def end(self) -> None:
        """End the board's process."""
        self.ask(do="end")

    # ── what a person sees ───────────────────────────────────────────────────────────────────────

    def state(self) -> dict[str, Any]:
        """Everything as it is now, as `Board.state` gives it."""
        state: dict[str, Any] = self.ask(do="state")["state"]
        return state

    def log(self, since: int = 0) -> list[Change]:
        """Every change after number `since` that is kept."""
        changes: list[Change] = []
        while rows := self.ask(do="log", since=since)["log"]:
            changes += [Change(*row) for row in rows]
            since = changes[-1].number
        return changes

    def follow(self, since: int = 0) -> None:
        """Be told every change after number `since`, past and to come: see `changes`."""
        self.ask(do="follow", since=since)

    def changes(self, seconds: float) -> Iterator[Change]:
        """The changes as they come, after `follow`; ends so many seconds from now."""
        give_up = time.monotonic() + seconds
        while True:
            while self._changes:
                yield self._changes.popleft()
            if not self._hear(give_up - time.monotonic()):
                return

    def wait_for(self, wanted: Callable[[Change], bool], seconds: float = 5.0) -> Change:
        """The next change, after `follow`, that is wanted. `PinsFault` where none comes in time."""
        for change in self.changes(seconds):
            if wanted(change):
                return change
        raise PinsFault(f"Nothing of the kind happened on the fake board within {seconds:g} s.")

    # ── the connection ───────────────────────────────────────────────────────────────────────────

    def _hear(self, seconds: float) -> bool:
        """Take what the board says, waiting so long at most; whether it said anything."""
        try:
            self._link.settimeout(max(0.0, seconds))
            data = self._link.recv(_MOST_AT_ONCE)
        except (TimeoutError, BlockingIOError):
            return False
        except OSError as fault:
            raise PinsFault(f"The fake board does not answer: {fault}") from None
        if not data:
            raise PinsFault("The fake board is gone.")
        *lines, self._buffer = (self._buffer + data).split(b"\n")
        for line in lines:
            self._sort(json.loads(line))
        return True

    def _sort(self, said: dict[str, Any]) -> None:
        match said:
            case {"edge": [pin, high, mono]}:
                self._edges.append(InputEdge(pin, bool(high), mono))
            case {"change": row}:
                self._changes.append(Change(*row))
            case {"lost": count}:
                raise PinsFault(f"{count} changes were dropped before they were followed.")
            case _:
                self._answers.append(said)


def _levels(answer: dict[str, Any]) -> dict[int, bool]:
    return {int(pin): bool(level) for pin, level in answer["levels"].items()}
