"""The fake board's process and its socket: one JSON object a line, each answered with one.

    {"do": "claim", "outputs": {"17": 0},      hold these lines: outputs at these levels, inputs
     "inputs": {"20": ["low", 20000000]}}      active low, debounced 20 ms; "busy" where one is held
    {"do": "set", "levels": {"17": 1}}         drive lines that one holds
    {"do": "read", "pins": [20]}               levels as they are
    {"do": "open", "levels": {"17": 0}}        drive lines that nobody holds (`release`)
    {"do": "press" | "let_go", "name": …}      buttons and switches, by name or pin
    {"do": "supply", "there": true}            the 24 V
    {"do": "fault", "name": …, "fault": "slow" | "stuck" | "welded" | "bouncing", "ms": 40}
    {"do": "mend", "name": …}   {"do": "swap", "line": …}
    {"do": "dials", "line": …, "shown": 510, "took": "-"}
    {"do": "state"}   {"do": "log", "since": 0}   {"do": "follow", "since": 0}   {"do": "end"}

Every answer has "ok"; where that is false, "says" has the words. Without being asked the board says
{"edge": [pin, level, mono]} to whoever claimed the input, and to whoever follows {"change": […]},
or {"lost": n} where n were dropped before it came to read them.
"""

from __future__ import annotations

import contextlib
import json
import os
import selectors
import socket
import struct
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any, cast

from controller.building.model import Building
from controller.circuits.fakeboard.board import Board, BoardRefuses
from controller.circuits.fakeboard.words import (
    MOST_BYTES,
    MOST_MILLISECONDS,
    asked_in,
    fault_in,
    inputs_in,
    levels_in,
    number_in,
    pins_in,
    text_in,
    truth_in,
)
from controller.circuits.lines import named
from controller.dials.modelled import Polarity

MOST_CLIENTS = 16
MOST_LOG_ROWS = 400
_MOST_UNREAD = 1 << 20  # bytes; whoever lets more wait is hung up on
_MOST_AHEAD = 65_536  # bytes; a follower is given the next changes when it has read these
_FAREWELL_SECONDS = 0.5
_MOST_NUMBER = 1 << 62


class Client:
    """Somebody who speaks to the board."""

    def __init__(self, link: socket.socket) -> None:
        self.link = link
        self.heard = b""
        self.unsent = bytearray()
        self.holds: frozenset[int] = frozenset()
        self.inputs: frozenset[int] = frozenset()
        self.follows: int | None = None  # the last change that it was sent
        credentials = link.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
        self.process: int = struct.unpack("3i", credentials)[0]

    def tell(self, **words: Any) -> None:
        """Put by what is to be sent."""
        self.unsent += json.dumps(words, separators=(",", ":")).encode() + b"\n"


class Server:
    """One board and whoever speaks to it. Nobody who does not listen holds the others up."""

    def __init__(self, building: Building, path: Path) -> None:
        """Listen at `path`, which nobody else does."""
        self.board = Board(building)
        self.path = path
        self.clients: list[Client] = []
        self.ending = False
        self._selector = selectors.DefaultSelector()
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        path.unlink(missing_ok=True)  # of a board that was killed
        self._listener.bind(str(path))
        os.chmod(path, 0o600)
        self._listener.listen(MOST_CLIENTS)
        self._listener.setblocking(False)
        self._selector.register(self._listener, selectors.EVENT_READ, None)

    def run(self) -> None:
        """Serve until told to end."""
        try:
            while not self.ending:
                instant = self.board.next_instant()
                wait = None if instant is None else max(0, instant - time.monotonic_ns()) / 1e9
                ready = self._selector.select(wait)
                for key, events in ready:
                    if key.data is not None and events & selectors.EVENT_READ:
                        self._hear(key.data)
                if any(key.data is None for key, _ in ready):
                    self._welcome()  # last, as others may have made room
                self.board.advance(time.monotonic_ns())
                self._tell_edges()
                for client in list(self.clients):
                    self._send(client)
            self._farewell()
        finally:
            self.path.unlink(missing_ok=True)
            self._listener.close()

    # ── connections ──────────────────────────────────────────────────────────────────────────────

    def _welcome(self) -> None:
        try:
            link, _ = self._listener.accept()
        except OSError:  # it is gone again
            return
        link.setblocking(False)
        if len(self.clients) >= MOST_CLIENTS:
            with contextlib.suppress(OSError):
                link.send(b'{"ok":false,"says":"the board has as many clients as it takes"}\n')
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
        self.board.listen_no_more(client.inputs)
        if client.holds:
            self._note_holder(client, 0, "its holder is gone")

    def _hear(self, client: Client) -> None:
        try:
            data = client.link.recv(MOST_BYTES)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:
            self._part(client)
            return
        *lines, client.heard = (client.heard + data).split(b"\n")
        for line in lines:
            if len(client.unsent) > _MOST_UNREAD:
                return  # it does not read its answers: it is hung up on
            client.tell(**self._answer(client, line))
        if len(client.heard) > MOST_BYTES:
            client.tell(ok=False, says=f"a message has at most {MOST_BYTES} bytes")
            self._send(client)
            if client in self.clients:
                self._part(client)

    def _send(self, client: Client) -> None:
        """Send what it takes without waiting."""
        self._tell_changes(client)
        try:
            if client.unsent:
                del client.unsent[: client.link.send(client.unsent)]
        except BlockingIOError:
            pass
        except OSError:
            self._part(client)
            return
        if len(client.unsent) > _MOST_UNREAD:
            self._part(client)
            return
        behind = client.follows is not None and client.follows < self.board.log.last
        writing = selectors.EVENT_WRITE if client.unsent or behind else 0
        self._selector.modify(client.link, selectors.EVENT_READ | writing, client)

    def _farewell(self) -> None:
        for client in self.clients:
            client.link.settimeout(_FAREWELL_SECONDS)
            with contextlib.suppress(OSError):
                client.link.sendall(client.unsent)
            client.link.close()

    # ── what is said without being asked ─────────────────────────────────────────────────────────

    def _tell_edges(self) -> None:
        edges, self.board.edges = self.board.edges, []
        for edge in edges:
            for client in self.clients:
                if edge.pin in client.inputs:
                    client.tell(edge=[edge.pin, int(edge.high), edge.mono])

    def _tell_changes(self, client: Client) -> None:
        log = self.board.log
        while client.follows is not None and len(client.unsent) < _MOST_AHEAD:
            if client.follows < log.dropped:
                client.tell(lost=log.dropped - client.follows)
            changes = log.after(client.follows, MOST_LOG_ROWS)
            if not changes:
                return
            for change in changes:
                client.tell(change=change)
            client.follows = changes[-1].number

    # ── what is asked ────────────────────────────────────────────────────────────────────────────

    def _answer(self, client: Client, line: bytes) -> dict[str, Any]:
        try:
            asked = asked_in(line)
            return {"ok": True, **self._do(client, asked)}
        except BoardRefuses as refused:
            return {"ok": False, "says": str(refused)}
        except ValueError as fault:
            return {"ok": False, "says": f"not understood: {fault}"}

    def _do(self, client: Client, asked: dict[str, Any]) -> dict[str, Any]:
        board = self.board
        match asked["do"]:
            case "claim":
                return self._claim(client, asked)
            case "set":
                levels = levels_in(asked, "levels")
                if not levels.keys() <= client.holds - client.inputs:
                    raise BoardRefuses("only who claimed lines as outputs drives them")
                board.set_levels(levels)
            case "open":
                levels = levels_in(asked, "levels")
                self._refuse_if_held(client, levels)
                board.set_levels(levels, "release")
            case "read":
                return {"levels": {pin: int(board.level(pin)) for pin in pins_in(asked)}}
            case "state":
                return {"state": {**board.state(), "process": os.getpid()}}
            case "log":
                rows = board.log.after(number_in(asked, "since", _MOST_NUMBER), MOST_LOG_ROWS)
                return {"log": rows, "dropped": board.log.dropped}
            case "follow":
                client.follows = number_in(asked, "since", _MOST_NUMBER)
            case "end":
                self.ending = True
            case _:
                self._do_by_hand(asked)
        return {}

    def _do_by_hand(self, asked: dict[str, Any]) -> None:
        """What a person does to the board."""
        board = self.board
        match asked["do"]:
            case "press" | "let_go" as what:
                board.press(text_in(asked, "name"), what == "press")
            case "supply":
                board.set_supply(truth_in(asked, "there"))
            case "fault":
                ms = number_in({"ms": 0, **asked}, "ms", MOST_MILLISECONDS)
                board.set_fault(text_in(asked, "name"), fault_in(asked), ms * 1_000_000)
            case "mend":
                board.clear_faults(text_in(asked, "name"))
            case "swap":
                board.swap(text_in(asked, "line"))
            case "dials":
                took = text_in(asked, "took")
                if took not in ("+", "-", ""):
                    raise ValueError('"took": expected + or -')
                shown = number_in(asked, "shown", _MOST_NUMBER)
                board.set_dials(text_in(asked, "line"), shown, cast(Polarity, took))
            case what:
                raise BoardRefuses(f"nobody knows how to {what}")

    def _claim(self, client: Client, asked: dict[str, Any]) -> dict[str, Any]:
        outputs = levels_in(asked, "outputs")
        inputs = inputs_in({"inputs": {}, **asked})
        if both := sorted(outputs.keys() & inputs.keys()):
            raise BoardRefuses(f"{named(both)}: a line is an output or an input")
        self._refuse_if_held(client, [*outputs, *inputs])
        client.holds |= outputs.keys() | inputs.keys()
        client.inputs = (client.inputs - outputs.keys()) | inputs.keys()
        self.board.listen_no_more(outputs)
        self.board.set_levels(outputs, "claimed")
        levels = self.board.listen(inputs)
        self._note_holder(client, 1, f"claimed by process {client.process}")
        return {"levels": {pin: int(high) for pin, high in levels.items()}}

    def _refuse_if_held(self, client: Client, pins: Iterable[int]) -> None:
        for other in self.clients:
            held = sorted(other.holds.intersection(pins))
            if other is not client and held:
                raise BoardRefuses(f"busy: {named(held)} held by process {other.process}")

    def _note_holder(self, client: Client, to: int, says: str) -> None:
        held = named(sorted(client.holds)) or "nothing"
        self.board.log.note(time.monotonic_ns(), "holder", held, to, says)
