"""Every change on the fake board, with its time."""

from __future__ import annotations

import time
from collections import deque
from itertools import islice
from typing import Literal, NamedTuple

MOST_CHANGES = 200_000

What = Literal["pin", "contact", "bell", "dial", "input", "supply", "fault", "holder"]


class Change(NamedTuple):
    """One thing that is otherwise than it was."""

    number: int  # 1, 2, 3 …
    mono: int
    utc: int
    what: What
    name: str
    to: int  # a level or a contact as 0 or 1, a dial as its position
    says: str  # for people


class ChangeLog:
    """The newest 200,000 changes; what was dropped before them is counted."""

    def __init__(self, most: int = MOST_CHANGES) -> None:
        self._changes: deque[Change] = deque(maxlen=most)
        self.last = 0

    @property
    def dropped(self) -> int:
        """How many of the oldest are gone."""
        return self.last - len(self._changes)

    def note(self, mono: int, what: What, name: str, to: int, says: str = "") -> None:
        """Write down what changed at `mono`, now or a moment ago."""
        self.last += 1
        utc = time.time_ns() - (time.monotonic_ns() - mono)
        self._changes.append(Change(self.last, mono, utc, what, name, to, says))

    def after(self, number: int, most: int) -> list[Change]:
        """The oldest `most` of those that came after `number`."""
        skip = max(0, number - self.dropped)
        return list(islice(self._changes, skip, skip + most))
