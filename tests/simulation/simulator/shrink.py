"""Makes a failing week short: which of its faults does it take?"""

from __future__ import annotations

from collections.abc import Callable

from simulator.week import Verdict, Week
from simulator.words import FAR

MOST_RUNS = 60

Judge = Callable[[Week], Verdict]


def only(week: Week, kept: tuple[int, ...]) -> Week:
    """The week with only these of its happenings."""
    return week._replace(faults=tuple(week.faults[number] for number in kept))


def shortened(
    week: Week, rule: str, judge: Judge, broken: int = FAR
) -> tuple[tuple[int, ...], Verdict | None]:
    """Numbers of happenings that are enough to break the same rule, and the verdict on them.

    `broken`: when it was, ns from the start. What happens later is left out first.
    """
    kept = tuple(range(len(week.faults)))
    before = tuple(number for number in kept if week.faults[number].at <= broken)
    verdict, runs = None, 0
    if before != kept:
        runs, tried = 1, judge(only(week, before))
        if tried.violation is not None and tried.violation.rule == rule:
            kept, verdict = before, tried
    size = max(1, len(kept) // 2)
    while runs < MOST_RUNS:
        for first in range(0, len(kept), size):
            fewer = kept[:first] + kept[first + size :]
            runs += 1
            tried = judge(only(week, fewer))
            if tried.violation is not None and tried.violation.rule == rule:
                kept, verdict = fewer, tried
                break
        else:
            if size == 1:
                break
            size //= 2
            continue
        size = min(size, max(1, len(kept) // 2))
    return kept, verdict
