"""How much the socket takes, of one caller and of all together, so that nobody who may speak to the
daemon can use up its memory or its time, by mistake or otherwise.

Of whatever all share, the last part is kept for the daemon's own user and for root: whatever the
others do, a keeper who says `stop` is heard.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.building.civil import SECOND
from controller.service.order_wire import MOST_ANSWER_BYTES, MOST_LINE_BYTES


class Kept(NamedTuple):
    """How much of what all share is kept for the daemon's own user and root."""

    clients: int
    long_lines: int
    orders_at_once: int
    unsent_bytes: int


NOTHING = Kept(0, 0, 0, 0)


class Limits(NamedTuple):
    """All of them a choice, by the reason beside it."""

    # A page's readers, a few terminals, scripts: some ten. With as many callers as this, each
    # is heard in its turn within `clients / orders_a_second_in_all`, which is under half a second.
    clients: int = 136
    # Who connects for each order is served; a script that does so in a loop takes a tenth of a core
    # and no more (measured on a shared x86 machine).
    connections_a_second: int = 300

    # Every order but an edit fits a short line. Room for one is always there, so that nobody
    # who is slow at a long line keeps another's `stop` waiting.
    short_line_bytes: int = 4096
    line_bytes: int = MOST_LINE_BYTES
    # Room for so many long lines at a time; others wait for it. With this, what is heard of all
    # callers together stays under 8 MiB + clients × short_line_bytes.
    long_lines: int = 4
    # Room for a long line is given for so long: who sends half of one does not keep it.
    long_line_ns: int = 5 * SECOND
    # To read a line of 2 MiB takes up to 18 ms (measured as above),
    # in which the engine waits. So each room rests after a line, by its length: after 50 KB, a
    # large file of the keeper's, 50 ms, after 2 MiB 2 s.
    long_line_bytes_a_second: int = 1 << 20

    # A person and a page give an order now and then; a script may give a few dozen in a row.
    orders_a_second: int = 20
    orders_at_once: int = 40
    # To read a short line takes up to 0.1 ms (measured as above).
    orders_a_second_in_all: int = 400
    # `hold` is answered after up to 20 s, and so others of the same caller may wait beside it.
    orders_owed: int = 16

    # From whoever does not read nothing more is taken. What it was owed may still come: the longest
    # answer and many usual ones; whoever lets more wait is parted.
    unsent_bytes: int = MOST_ANSWER_BYTES + (1 << 20)
    # Beyond it whoever lets most wait is parted.
    unsent_bytes_in_all: int = 16 << 20

    kept: Kept = Kept(clients=8, long_lines=1, orders_at_once=50, unsent_bytes=4 << 20)

    # What a watcher sees as moving; each time all is drawn anew.
    states_a_second: int = 4


LIMITS = Limits()


class Pace:
    """So many a second in the long run, and so many at once after a rest."""

    def __init__(self, a_second: int, at_once: int) -> None:
        self._each_ns = SECOND // a_second
        self._at_once = at_once
        self._spent_until = 0  # mono at which all that was taken has been earned

    def due(self, kept: int = 0) -> int:
        """The mono from which one more may be taken, by who must leave so many at once."""
        return self._spent_until - (self._at_once - 1 - kept) * self._each_ns

    def take(self, now: int) -> None:
        """Take one; `now` is at or after `due`."""
        self._spent_until = max(self._spent_until, now) + self._each_ns


class LongLines:
    """The room for long lines: so many at a time, each of which rests after its line."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._taken = 0
        self._resting: list[int] = []  # mono at which each that rests may be taken again

    def take(self, now: int, kept: int) -> bool:
        """Take room for one, where so many are left besides."""
        self._resting = [until for until in self._resting if until > now]
        free = self._limits.long_lines - self._taken - len(self._resting)
        if free <= kept:
            return False
        self._taken += 1
        return True

    def give_back(self, now: int, heard_bytes: int) -> None:
        """The line was heard, or will not be."""
        assert self._taken > 0, "what is given back was taken"
        self._taken -= 1
        rest = heard_bytes * SECOND // self._limits.long_line_bytes_a_second
        self._resting.append(now + rest)

    def due(self) -> int | None:
        """The mono at which one of those that rest may be taken."""
        return min(self._resting, default=None)
