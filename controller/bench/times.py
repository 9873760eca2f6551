"""The tests that work a relay many times: `times` and `endurance`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from controller.bench.histogram import Histogram, histogram
from controller.bench.judge import (
    Finding,
    Spread,
    Timing,
    findings,
    ms_text,
    spread,
    summed,
    timing,
    was_late,
)
from controller.bench.operation import Operation, Wanted
from controller.bench.pace import SHORT_NS, least_period, length_of
from controller.bench.plan import Plan, circuit_called, not_done
from controller.bench.steps import Announce, Note, Operate, Relay, Result, Script, Verdict
from controller.building.durations import MINUTE, SECOND
from controller.circuits.senses import MILLISECOND

TIMES = "times"
ENDURANCE = "endurance"


# ── times ────────────────────────────────────────────────────────────────────────────────────────


def times(plan: Plan) -> Script:
    """Measure each sensed relay over several operations."""
    for relays in plan.circuits:
        if relays[0].sense is None:
            says = "It has no sense, so its times cannot be measured."
            first = relays[0]
            yield Note(Result(TIMES, first.circuit.name, first.title, "not judged", "", (says,)))
        else:
            yield from _timed(plan, relays)


def _timed(plan: Plan, relays: tuple[Relay, ...]) -> Script:
    circuit = relays[0].circuit
    length = length_of(circuit, SHORT_NS)
    count = plan.operations
    lasts = count * len(relays) * least_period(circuit, length)
    about = f"{circuit_called(relays[0])}: {count} operations of each relay, {_lasts_text(lasts)}."
    if not (yield Announce(TIMES, about, *_moves(relays[0], count * len(relays)))):
        for relay in relays:
            yield not_done(TIMES, relay.name, relay.title)
        return
    told: dict[Relay, list[tuple[Timing, tuple[Finding, ...]]]] = {relay: [] for relay in relays}
    at = 0
    for _ in range(count):
        for relay in relays:
            (operation,) = yield Operate((Wanted(*relay.key, length, at),))
            at = operation.start + least_period(circuit, length)
            told[relay].append((timing(operation), findings(relay, operation, plan.every)))
            yield Note(_times_result(relay, told[relay], count), len(told[relay]), count)


def _times_result(
    relay: Relay, told: Sequence[tuple[Timing, tuple[Finding, ...]]], of: int
) -> Result:
    found = Counter(finding for _, findings in told for finding in findings)
    timings = [one for one, _ in told]
    said, figures, drawn = _spreads(timings)
    verdict: Verdict = "fault" if found else "well" if len(told) == of else "stopped"
    return Result(
        TIMES,
        relay.name,
        relay.title,
        verdict,
        "sense",
        (*summed(found, len(told)), *said),
        (("operations", len(told)), *figures),
        drawn,
    )


def _spreads(
    timings: Sequence[Timing],
) -> tuple[list[str], list[tuple[str, float]], tuple[Histogram, ...]]:
    """Median and worst of the four times, in words and as figures; and how they spread."""
    said: list[str] = []
    figures: list[tuple[str, float]] = []
    drawn: list[Histogram | None] = []
    # A bounce is measured where the contact moved at all.
    rows: tuple[tuple[str, Iterable[int | None]], ...] = (
        ("pull-in", (t.pull_in_ns for t in timings)),
        ("drop-out", (t.drop_out_ns for t in timings)),
        ("closing bounce", (t.closing_bounce_ns for t in timings if t.pull_in_ns is not None)),
        ("opening bounce", (t.opening_bounce_ns for t in timings if t.drop_out_ns is not None)),
    )
    for name, measured in rows:
        times_ns = list(measured)
        over = spread(times_ns)
        if over is None:
            continue
        said.append(_spread_text(name, over))
        figures += [
            (f"{name} {which} ms", round(value / MILLISECOND, 3))
            for which, value in over._asdict().items()
        ]
        drawn.append(histogram(name, times_ns))
    return said, figures, tuple(one for one in drawn if one is not None)


def _spread_text(name: str, over: Spread) -> str:
    if not over.worst:
        return f"{name}: none."
    return (
        f"{name}: median {ms_text(over.median)}, worst {ms_text(over.worst)}, spread "
        f"{ms_text(over.worst - over.least)}."
    )


# ── endurance ────────────────────────────────────────────────────────────────────────────────────


def endurance(plan: Plan) -> Script:
    """Work each circuit many times at a rate; count what was missed, and what came late."""
    for relays in plan.circuits:
        yield from _endured(plan, relays)


def _endured(plan: Plan, relays: tuple[Relay, ...]) -> Script:
    first, circuit, of = relays[0], relays[0].circuit, plan.endures
    length = length_of(circuit, SHORT_NS)
    least = least_period(circuit, length)
    period = max(least, round(MINUTE / plan.rate)) if plan.rate else least
    about = f"{circuit_called(first)}: {of} operations, {_rate_text(period)} a minute"
    if plan.rate and period > round(MINUTE / plan.rate):
        about += f" (more than that its limits and its rest do not allow, nor {plan.rate:g})"
    about += f", {_lasts_text(of * period)}."
    if not (yield Announce(ENDURANCE, about, *_moves(first, of))):
        yield not_done(ENDURANCE, circuit.name, first.title)
        return
    tally = _Tally(first, of)
    at = 0
    for number in range(of):
        relay = relays[number % len(relays)]
        (operation,) = yield Operate((Wanted(*relay.key, length, at),))
        at = (at or operation.start) + period
        tally.add(operation, findings(relay, operation, plan.every))
        yield Note(tally.result(), number + 1, of)


class _Tally:
    """What came of the operations so far."""

    def __init__(self, first: Relay, of: int) -> None:
        self._first = first
        self._of = of
        self._done = self._missed = self._late = 0
        self._found: Counter[Finding] = Counter()
        self._timings: list[Timing] = []

    def add(self, operation: Operation, found: tuple[Finding, ...]) -> None:
        moved = timing(operation)
        sensed = self._first.sense is not None
        self._done += 1
        self._missed += operation.closed_at is None or (sensed and moved.pull_in_ns is None)
        self._late += was_late(operation)
        self._found.update(found)
        self._timings.append(moved)

    def result(self) -> Result:
        first = self._first
        whole = self._done == self._of
        bad = self._found or self._missed or self._late
        judged: Verdict = "well" if first.sense is not None else "not judged"
        verdict: Verdict = "fault" if bad else judged if whole else "stopped"
        missed_by = "" if first.sense is not None else ", by its coil: no sense reads its contact"
        counts = f"{self._done} of {self._of} operations"
        says = f"{counts}: {self._missed} missed, {self._late} late{missed_by}."
        said, figures, drawn = _spreads(self._timings) if whole else ([], [], ())
        return Result(
            ENDURANCE,
            first.circuit.name,
            first.title,
            verdict,
            "sense" if first.sense is not None else "hand",
            (says, *summed(self._found, self._done), *said),
            (
                ("operations", self._done),
                ("asked", self._of),
                ("missed", self._missed),
                ("late", self._late),
                *figures,
            ),
            drawn,
        )


# ── words ────────────────────────────────────────────────────────────────────────────────────────


def _moves(first: Relay, count: int) -> tuple[str, str]:
    """What moves, and what to disconnect or watch."""
    if first.circuit.kind == "zone":
        return (
            f"Its bells, where they are connected, ring {count} times.",
            "Take the zone's fuse out, unless the bells are to be tried too: then nobody may be at "
            "one.",
        )
    return (
        f"Its dials, where they are connected, move {count} impulses on; the line is unread "
        "afterwards.",
        "Disconnect the pair to the dials if they are to stay.",
    )


def _rate_text(period_ns: int) -> str:
    return f"{MINUTE / period_ns:.3g}"


def _lasts_text(nanoseconds: int) -> str:
    """ "about 45 s", "about 33 min", "about 2 h 10 min"."""
    seconds = -(-nanoseconds // SECOND)
    if seconds < 120:
        return f"about {seconds} s"
    minutes = -(-seconds // 60)
    if minutes < 120:
        return f"about {minutes} min"
    return f"about {minutes // 60} h {minutes % 60:02d} min"
