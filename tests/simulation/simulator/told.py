"""What a run was, for people: its happenings, its last lines, the table of fault × moment."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from simulator.kinds import FAULTS
from simulator.moments import NAMES
from simulator.week import Verdict, Week
from simulator.words import MINUTE, SECOND

LAST_LINES = 30
COMMAND = "python tests/simulation/weeks.py"


def line_of(week: Week, entry: tuple) -> str:
    """One line of a trace: days and time from the start, local time, what was."""
    t, *what = entry
    program = week.house.programs[0]
    since = t - week.start
    local = f"{program.local(t):%a %H:%M:%S}"
    hours = since // SECOND // 3600
    rest = f"{since // MINUTE % 60:02}:{since % MINUTE / SECOND:09.6f}"
    return f"{hours // 24} d {hours % 24:02}:{rest}  {local}  {' '.join(map(_word, what))}"


def _word(word: object) -> str:
    if isinstance(word, bool):
        return "closed" if word else "open"
    return str(word)


def trace_of(week: Week, verdict: Verdict, lines: int = 0) -> str:
    """The trace, or its last lines."""
    return "\n".join(line_of(week, entry) for entry in verdict.trace[-lines:])


def failure_of(week: Week, kept: tuple[int, ...], verdict: Verdict) -> str:
    """A failing week: what was broken, what it takes, and the command that replays it."""
    happenings = "\n".join(f"  {number:2}  {week.faults[number]}" for number in kept)
    chosen = ",".join(map(str, kept))
    return (
        f"Seed {week.seed}: {verdict.violation}\n"
        f"It takes {len(kept)} of {len(week.faults)} happenings:\n{happenings}\n"
        f"Its last lines:\n{trace_of(week, verdict, LAST_LINES)}\n"
        f"Again: {COMMAND} --seed {week.seed} --only {chosen or 'none'}\n"
    )


class Coverage:
    """How often each fault struck at each moment."""

    def __init__(self) -> None:
        self.counts: Counter[tuple[str, str]] = Counter()
        self.struck: Counter[str] = Counter()

    def add(self, struck: Iterable[tuple[str, tuple[str, ...]]]) -> None:
        for kind, moments in struck:
            self.struck[kind] += 1
            self.counts.update((kind, moment) for moment in moments)

    def missing(self) -> list[str]:
        """Faults that never struck."""
        return [kind for kind in FAULTS if not self.struck[kind]]

    def table(self) -> str:
        """Faults down, moments across; a fault may strike at several moments at once."""
        marks = [chr(ord("A") + number) for number in range(len(NAMES))]
        key = "\n".join(f"  {mark}  {name}" for mark, name in zip(marks, NAMES, strict=True))
        head = f"{'':24}{'all':>6}" + "".join(f"{mark:>6}" for mark in marks)
        rows = [
            f"{kind:24}{self.struck[kind]:6}"
            + "".join(f"{self.counts[kind, name] or '·':>6}" for name in NAMES)
            for kind in FAULTS
        ]
        total = f"{'all':24}{sum(self.struck.values()):6}" + "".join(
            f"{sum(self.counts[kind, name] for kind in FAULTS) or '·':>6}" for name in NAMES
        )
        return "\n".join([key, "", head, *rows, total])
