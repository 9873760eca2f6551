"""The simulator's own words. Instants are integer nanoseconds of outside time, which runs evenly:
it is the beat of the machine's own crystal. True time is outside time and what that has drifted by.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

MILLISECOND = 1_000_000
SECOND = 1_000_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
DAY = 24 * HOUR
FAR = 1 << 62

POWER, DOWN, HAND, STEPPED, STORE, SUPPLY, CONTACT, SLOW, FILE, PEOPLE, EXEMPT = (
    "power",
    "down",
    "hand",
    "stepped",
    "store",
    "supply",
    "contact",
    "slow",
    "file",
    "people",
    "exempt",
)


class Violation(AssertionError):
    """Something that must not be. `rule` names it; the same fault keeps its name."""

    def __init__(self, rule: str, says: str) -> None:
        super().__init__(f"{rule}: {says}")
        self.rule = rule
        self.says = says


class Fault(NamedTuple):
    """Something that happens to the building: a fault, or what people do."""

    at: int  # ns from the beginning
    kind: str
    how: Mapping[str, Any] = {}
    moment: str = ""  # it waits for this moment, but not for ever
    fraction: float = 0.5  # how far into that moment

    def __str__(self) -> str:
        hours, rest = divmod(self.at // MILLISECOND, 3_600_000)
        minutes, rest = divmod(rest, 60_000)
        how = "".join(f", {name} {value}" for name, value in self.how.items())
        when = f" ({self.moment}, {self.fraction:.2f})" if self.moment else ""
        at = f"{hours // 24} d {hours % 24:02}:{minutes:02}:{rest / 1000:06.3f}"
        return f"{at} {self.kind}{how}{when}"


def ns(seconds: float) -> int:
    """Seconds as nanoseconds, exact to the microsecond."""
    return round(seconds * 1_000_000) * 1000


def scattered(seed: int, number: int) -> float:
    """A fraction from 0 up to 1 that only these two numbers decide."""
    mixed = (seed * 0x9E3779B97F4A7C15 + number * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
    mixed ^= mixed >> 31
    mixed = (mixed * 0x94D049BB133111EB) & 0xFFFFFFFFFFFFFFFF
    return ((mixed ^ (mixed >> 29)) >> 11) / (1 << 53)
