"""The picture of the state, drawn for all who want it and no more often than needed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from controller.building.civil import SECOND
from controller.service.order_wire import json_of


class States:
    """The state as JSON, and its number, which rises whenever it has changed."""

    def __init__(self, draw: Callable[[], Mapping[str, Any]], a_second: int) -> None:
        self.number = 0
        self._draw = draw
        self.lasts_ns = SECOND // a_second  # from one telling to the next
        self._drawn = b""
        self._good_until = 0  # mono
        self._next_round_at = 0  # mono

    def changed(self) -> None:
        """It is otherwise: all who watch will be told."""
        self.number += 1
        self.outdate()

    def outdate(self) -> None:
        """It may be otherwise: whoever asks next is told what is drawn then."""
        self._good_until = 0

    def drawn(self, now: int) -> bytes:
        """The JSON of it, no older than a fraction of a second. Raise what drawing it raises."""
        if now >= self._good_until:
            self._drawn = json_of(self._draw())
            self._good_until = now + self.lasts_ns
        return self._drawn

    def line(self, now: int) -> bytes:
        """What watchers are sent."""
        return b'{"state":' + self.drawn(now) + b"}\n"

    def next_round(self) -> int:
        """The mono at which watchers may be told again."""
        return self._next_round_at

    def begin_round(self, now: int) -> None:
        """Watchers are told now."""
        self._next_round_at = now + self.lasts_ns
