"""What the lines of a guest did, as the chip itself wrote it down, and rules to judge it by.

The chip tells every change at the instant of it (guest/recorder.h), from before the guest's first
process to the moment its power goes; it knows nothing of the daemon, and neither does this. Times
are the guest's own; those of a power cut are the last that it told, which it does every 20 ms.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

MILLISECOND, SECOND = 1_000_000, 1_000_000_000


class Edge(NamedTuple):
    """One entry of the record."""

    what: str  # begin, level, out, in; cut: its power went
    line: int
    level: int
    mono: int  # of the guest's boot, ns
    utc: int  # by the guest's clock, ns
    boot: int  # the first is 1


class Closing(NamedTuple):
    """A relay was closed for a while."""

    line: int
    began: Edge
    ended: Edge | None  # None: it is closed still

    @property
    def seconds(self) -> float:
        """How long; where the power cut it short, to 20 ms."""
        assert self.ended is not None, "it is closed still"
        return (self.ended.mono - self.began.mono) / SECOND

    @property
    def cut(self) -> bool:
        return self.ended is not None and self.ended.what == "cut"


class Recording:
    """Filled by a thread of its own while the guest has power."""

    def __init__(self) -> None:
        self.edges: list[Edge] = []
        self.on_edge: Callable[[Edge], None] | None = None  # called as each comes in
        self._news = threading.Condition()
        self._boot = 0
        self._newest = (0, 0)  # the guest's clocks, as told last
        self._listener: threading.Thread | None = None

    def listen(self, link: socket.socket) -> None:
        """Take what a guest that just got its power tells."""
        self._boot += 1
        self._listener = threading.Thread(target=self._take, args=(link,), daemon=True)
        self._listener.start()

    def _take(self, link: socket.socket) -> None:
        rest = b""
        with link:
            while data := link.recv(65536):
                *lines, rest = (rest + data).split(b"\n")
                for line in lines:
                    words = line.decode("ascii", "replace").split()
                    # The port is the BIOS's for its own words, too.
                    if len(words) == 5 and words[0] in ("begin", "level", "out", "in", "tick"):
                        line, level, mono, utc = map(int, words[1:])
                        self._newest = mono, utc
                        if words[0] != "tick":
                            self._add(Edge(words[0], line, level, mono, utc, self._boot))

    def power_is_away(self) -> None:
        """All that was told has been taken."""
        if self._listener is not None:
            self._listener.join()
            self._add(Edge("cut", -1, 0, *self._newest, self._boot))
        self._listener = None

    def _add(self, edge: Edge) -> None:
        with self._news:
            self.edges.append(edge)
            self._news.notify_all()
        if self.on_edge is not None:
            self.on_edge(edge)

    def mark(self) -> int:
        """A place in the record: what comes from now on has this number or a greater one."""
        with self._news:
            return len(self.edges)

    @property
    def now(self) -> int:
        """The guest's monotonic clock, to 20 ms."""
        return self._newest[0]

    def since(self, mark: int) -> list[Edge]:
        with self._news:
            return self.edges[mark:]

    def wait_for(self, line: int, level: int, since: int, seconds: float) -> Edge:
        """The first change of a line to a level from a mark on, waited for."""

        def found() -> Edge | None:
            wanted = ("level", line, level)
            return next((one for one in self.edges[since:] if one[:3] == wanted), None)

        with self._news:
            self._news.wait_for(found, timeout=seconds)
            edge = found()
        assert edge is not None, f"line {line} did not go to {level} within {seconds:g} s"
        return edge


# ── rules ────────────────────────────────────────────────────────────────────────────────────────


def closings(edges: Iterable[Edge], relays: Mapping[int, bool]) -> list[Closing]:
    """Every closing of these relays (line → the level that closes it), in order of beginning.

    A power cut opens all. What a line is pulled to before anybody claims it counts as well: a relay
    does not care who holds it.
    """
    done: list[Closing] = []
    closed: dict[int, Edge] = {}
    for edge in edges:
        if edge.what == "cut":
            done += [Closing(line, began, edge) for line, began in closed.items()]
            closed.clear()
        elif edge.what == "level" and edge.line in relays:
            if edge.level == relays[edge.line]:
                closed[edge.line] = edge
            elif edge.line in closed:
                done.append(Closing(edge.line, closed.pop(edge.line), edge))
    done += [Closing(line, began, None) for line, began in closed.items()]
    return sorted(done, key=lambda one: (one.began.boot, one.began.mono))


def overlaps(given: Sequence[Closing], plus: int, minus: int, gap_seconds: float) -> list[str]:
    """Where + and − of a line were closed together, or one sooner than `gap` after the other."""
    said: list[str] = []
    both = [one for one in given if one.line in (plus, minus)]
    for before, after in pairwise(both):
        if before.line == after.line or before.began.boot != after.began.boot:
            continue
        if before.ended is None:
            said.append(f"{after.began}: while line {before.line} is closed")
        elif not before.cut:
            rest = (after.began.mono - before.ended.mono) / SECOND
            if rest < gap_seconds:
                said.append(f"{after.began}: {rest:.4f} s after line {before.line} opened")
    return said


def turned_round(edges: Iterable[Edge], relays: Mapping[int, bool]) -> list[Edge]:
    """Relay lines that were made inputs after having been outputs: a relay would float."""
    return [edge for edge in edges if edge.what == "in" and edge.line in relays]


def late_ms(closing: Closing, due_utc: int) -> float:
    """How long after its due instant a relay closed, by the guest's clock."""
    return (closing.began.utc - due_utc) / MILLISECOND
