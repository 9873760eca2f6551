"""How often: tries to sign in, rings by hand."""

from __future__ import annotations

import time
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable

FREE_TRIES = 3
FIRST_WAIT_SECONDS = 2.0
LONGEST_WAIT_SECONDS = 900.0
FORGET_SECONDS = 3600.0
MOST_KEYS = 2_000
RINGS_A_MINUTE = 10  # of one person; nobody at a panel presses more often


class Tries:
    """After some that fail one has to wait, each time twice as long; by name and by address."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._failed: OrderedDict[Hashable, tuple[int, float]] = OrderedDict()  # how often, when

    def wait(self, *keys: Hashable) -> float:
        """Seconds until the next try is heard; 0: it is heard now."""
        return max((self._wait(key) for key in keys), default=0.0)

    def failed(self, *keys: Hashable) -> None:
        """A try has failed."""
        for key in keys:
            number, last = self._failed.pop(key, (0, 0.0))
            number = 0 if self._now() - last > FORGET_SECONDS else number
            self._failed[key] = number + 1, self._now()
            if len(self._failed) > MOST_KEYS:
                self._failed.popitem(last=False)

    def forget(self, *keys: Hashable) -> None:
        """It was right."""
        for key in keys:
            self._failed.pop(key, None)

    def _wait(self, key: Hashable) -> float:
        number, last = self._failed.get(key, (0, 0.0))
        if number < FREE_TRIES:
            return 0.0
        doubled = FIRST_WAIT_SECONDS * 2.0 ** min(number - FREE_TRIES, 16)
        return max(0.0, last + min(doubled, LONGEST_WAIT_SECONDS) - self._now())


class Rate:
    """So many in any minute, by key."""

    def __init__(self, a_minute: int, now: Callable[[], float] = time.monotonic) -> None:
        self._a_minute, self._now = a_minute, now
        self._times: OrderedDict[Hashable, deque[float]] = OrderedDict()

    def take(self, key: Hashable) -> bool:
        """Whether there is room for one more now; it is counted then."""
        times = self._times.setdefault(key, deque(maxlen=self._a_minute))
        self._times.move_to_end(key)
        if len(self._times) > MOST_KEYS:
            self._times.popitem(last=False)
        now = self._now()
        if len(times) == self._a_minute and now - times[0] < 60:
            return False
        times.append(now)
        return True
