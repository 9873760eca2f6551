"""The fake board's process and its socket: one JSON object a line, answered one by one.

    {"do": "claim", "outputs": {"17": 0}}      hold these lines, at these levels; "busy" if held
    {"do": "set", "levels": {"17": 1}}         drive lines that one holds
    {"do": "open", "levels": {"17": 0}}        drive lines that nobody holds (`release`)
    {"do": "press" | "let_go", "name": …}      buttons and switches
    {"do": "supply", "there": true}            the 24 V
    {"do": "fault", "name": …, "fault": "slow" | "stuck" | "welded" | "bouncing", "ms": 40}
    {"do": "mend", "name": …}   {"do": "swap", "line": …}
    {"do": "dials", "line": …, "shown": 510, "took": "-"}
    {"do": "state"}   {"do": "log", "since": 0}   {"do": "end"}

Every answer has "ok"; where that is false, "says" has the words. Started as
`python -m controller.circuits.fakeboard PATH SOCKET`.
"""

from __future__ import annotations

import contextlib
import json
import selectors
import socket
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.circuits.fakeboard.board import Board, levels_of
from controller.circuits.lines import named

if TYPE_CHECKING:
    from controller.building.model import Building

MOST_BYTES = 65_536
MOST_CLIENTS = 16
MOST_LOG_ROWS = 400


class Client:
    def __init__(self, link: socket.socket) -> None:
        self.link = link
        self.buffer = b""
        self.holds: frozenset[int] = frozenset()


class Server:
    """One board and whoever speaks to it."""

    def __init__(self, building: Building, path: Path) -> None:
        self.board = Board(building)
        self.path = path
        self.clients: list[Client] = []
        self.ending = False
        self._selector = selectors.DefaultSelector()
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        with contextlib.suppress(FileNotFoundError):
            path.unlink()
        self._listener.bind(str(path))
        self._listener.listen(MOST_CLIENTS)
        self._selector.register(self._listener, selectors.EVENT_READ, None)

    def run(self) -> None:
        """Serve until told to end."""
        while not self.ending:
            instant = self.board.next_instant()
            wait = None if instant is None else max(0, instant - time.monotonic_ns()) / 1e9
            for key, _ in self._selector.select(wait):
                if key.data is None:
                    self._welcome()
                else:
                    self._hear(key.data)
            self.board.advance(time.monotonic_ns())
        self._listener.close()
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()

    def _welcome(self) -> None:
        link, _ = self._listener.accept()
        if len(self.clients) >= MOST_CLIENTS:
            link.close()
            return
        client = Client(link)
        self.clients.append(client)
        self._selector.register(link, selectors.EVENT_READ, client)

    def _part(self, client: Client) -> None:
        """Somebody is gone; lines that it held keep their last level."""
        self._selector.unregister(client.link)
        self.clients.remove(client)
        client.link.close()
        if client.holds:
            held = named(sorted(client.holds))
            self.board.log.note(time.monotonic_ns(), "holder", held, 0, "its holder is gone")

    def _hear(self, client: Client) -> None:
        try:
            data = client.link.recv(MOST_BYTES)
        except ConnectionError:
            data = b""
        client.buffer += data
        if not data or len(client.buffer) > MOST_BYTES:
            self._part(client)
            return
        *lines, client.buffer = client.buffer.split(b"\n")
        for line in lines:
            answer = json.dumps(self._answer(client, line)).encode() + b"\n"
            try:
                client.link.sendall(answer)
            except OSError:
                self._part(client)
                return

    def _answer(self, client: Client, line: bytes) -> dict[str, Any]:
        try:
            asked = json.loads(line)
            return {"ok": True, **self._do(client, asked)}
        except _Refused as refused:
            return {"ok": False, "says": str(refused)}
        except KeyError as missing:
            return {"ok": False, "says": f"the board has no {missing.args[0]!r}"}
        except (ValueError, TypeError) as fault:
            return {"ok": False, "says": f"not understood: {fault}"}

    def _do(self, client: Client, asked: dict[str, Any]) -> dict[str, Any]:
        board = self.board
        match asked["do"]:
            case "claim":
                self._claim(client, levels_of(asked["outputs"]))
            case "set":
                levels = levels_of(asked["levels"])
                if not levels.keys() <= client.holds:
                    raise _Refused("these lines are not held by who drives them")
                board.set_levels(levels)
            case "open":
                levels = levels_of(asked["levels"])
                self._refuse_if_held(client, levels.keys())
                board.set_levels(levels, "release")
            case "press" | "let_go" as what:
                board.press(asked["name"], what == "press")
            case "supply":
                board.set_supply(bool(asked["there"]))
            case "fault":
                if asked["fault"] not in ("slow", "stuck", "welded", "bouncing"):
                    raise _Refused(f"a relay cannot be {asked['fault']}")
                board.set_fault(asked["name"], asked["fault"], int(asked.get("ms", 0)) * 1_000_000)
            case "mend":
                board.clear_faults(asked["name"])
            case "swap":
                board.swap(asked["line"])
            case "dials":
                board.set_dials(asked["line"], int(asked["shown"]), asked["took"])
            case "state":
                return {"state": board.state()}
            case "log":
                rows = board.log.after(int(asked.get("since", 0)), MOST_LOG_ROWS)
                return {"log": rows, "dropped": board.log.dropped}
            case "end":
                self.ending = True
            case what:
                raise _Refused(f"nobody knows how to {what}")
        return {}

    def _claim(self, client: Client, outputs: dict[int, bool]) -> None:
        self._refuse_if_held(client, outputs.keys())
        client.holds = client.holds | outputs.keys()
        self.board.set_levels(outputs, "claimed")

    def _refuse_if_held(self, client: Client, pins: Any) -> None:
        for other in self.clients:
            held = sorted(other.holds & set(pins))
            if other is not client and held:
                raise _Refused(f"busy: {named(held)} held by another process")


class _Refused(Exception):
    """An answer of no, in words."""
