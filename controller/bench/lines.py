"""The test `lines`: each line's polarities at its impulse and gap, and the interlock on purpose."""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator, Sequence
from itertools import pairwise
from typing import Any

from controller.bench.judge import Finding, findings, line_dead, line_swapped, ms_text, summed
from controller.bench.operation import Operation, Wanted
from controller.bench.plan import Plan, circuit_called, not_done
from controller.bench.steps import (
    Announce,
    Ask,
    Note,
    Operate,
    Relay,
    Result,
    Say,
    Script,
    Step,
)
from controller.building.durations import duration_text

TEST = "lines"
IMPULSES = 4
_ANSWERS = (
    ("y", "yes"),
    ("n", "no"),
    ("s", "the other way round"),
    ("a", "again"),
)


def lines(plan: Plan) -> Script:
    """Give each line +, −, +, −; then ask for + and − together, which must be refused."""
    for relays in plan.circuits:
        if relays[0].circuit.kind == "line":
            yield from _line(plan, relays)


def _line(plan: Plan, relays: tuple[Relay, ...]) -> Script:
    first, circuit = relays[0], relays[0].circuit
    alternating = len(relays) > 1
    if not (yield _announced(first, alternating)):
        yield not_done(TEST, circuit.name, first.title)
        return
    while True:
        operations = yield from _impulses(relays)
        found = [
            findings(relays[number % len(relays)], operation, plan.every)
            for number, operation in enumerate(operations)
        ]
        answer = None
        if not any(found):
            shown = "+, −, +, −" if alternating else "four impulses, all +"
            answers = _ANSWERS if alternating else (*_ANSWERS[:2], _ANSWERS[3])
            answer = yield Ask(f"Did the meter show {shown}?", answers)
        if answer != "a":
            break
    yield Note(_line_result(relays, operations, found, answer))
    if alternating:
        yield from _interlock(relays)


def _announced(first: Relay, alternating: bool) -> Announce:
    circuit = first.circuit
    impulse, gap = duration_text(circuit.longest_ns), duration_text(circuit.gap_ns)
    shape = f"impulses of {impulse}, {gap} apart"
    if alternating:
        about = f"{circuit_called(first)}: +, −, +, −, {shape}; then + and − asked for together."
        count = IMPULSES + 2
        meter = (
            "Put a meter across the line's terminals, its red lead on a, the common contact of the "
            f"relay on GPIO{circuit.relays[0]}, its black lead on b, that on GPIO"
            f"{circuit.relays[1]}: at + it reads positive, at − negative."
        )
    else:
        about, count = f"{circuit_called(first)}: {IMPULSES} impulses, all +, {shape}.", IMPULSES
        meter = "Put a meter across the line's terminals, its red lead on +: it reads positive."
    moves = f"Dials that are connected move {count} impulses on; the line is unread afterwards."
    return Announce(
        TEST, about, moves, f"Disconnect the pair to the dials if they are to stay. {meter}"
    )


def _impulses(relays: Sequence[Relay]) -> Generator[Step, Any, list[Operation]]:
    operations: list[Operation] = []
    circuit, at = relays[0].circuit, 0
    for number in range(IMPULSES):
        relay = relays[number % len(relays)]
        mark = relay.mark.replace("-", "−") or "+"
        yield Say(f"{number + 1} of {IMPULSES}  {circuit.name}: {mark}")
        (operation,) = yield Operate((Wanted(*relay.key, circuit.longest_ns, at),))
        operations.append(operation)
        at = (operation.opened_at or 0) + circuit.gap_ns
    return operations


def _line_result(
    relays: Sequence[Relay],
    operations: Sequence[Operation],
    found: Sequence[tuple[Finding, ...]],
    answer: str | None,
) -> Result:
    first = relays[0]
    result = Result(TEST, first.circuit.name, first.title, "fault", "sense")
    if any(found):
        counts = Counter(finding for each in found for finding in each)
        return result._replace(says=summed(counts, len(operations)))
    if answer == "s":
        return result._replace(by="person", says=(line_swapped(relays[0], relays[-1]).says,))
    if answer == "n":
        return result._replace(by="person", says=(line_dead(first).says,))
    kept = _kept_text(operations)
    if answer == "y":
        return result._replace(verdict="well", by="person", says=(kept,))
    if first.sense is None:
        unseen = "It has no sense, and nobody measured what came out at the terminals."
        return result._replace(verdict="not judged", by="", says=(kept, unseen))
    unseen = "The contacts moved as asked; nobody measured what came out at the terminals."
    return result._replace(verdict="well", says=(kept, unseen))


def _kept_text(operations: Sequence[Operation]) -> str:
    """Impulses and gaps as the coils were worked."""
    spans = [(o.closed_at or 0, o.opened_at or 0) for o in operations]
    impulses = [opened - closed for closed, opened in spans]
    gaps = [after[0] - before[1] for before, after in pairwise(spans)]
    return f"Impulses {_between_text(impulses)}, gaps {_between_text(gaps)}."


def _between_text(times: Sequence[int]) -> str:
    """ "400.1 ms", or "1.004 s to 1.005 s"."""
    return " to ".join(dict.fromkeys([ms_text(min(times)), ms_text(max(times))]))


# ── the interlock ────────────────────────────────────────────────────────────────────────────────


def _interlock(relays: Sequence[Relay]) -> Script:
    plus, circuit = relays[0], relays[0].circuit
    yield Say(f"interlock  {circuit.name}: + and − asked for together, then − at once after +")
    both = tuple(Wanted(*relay.key, circuit.longest_ns) for relay in relays)
    first, second = yield Operate(both)
    (after,) = yield Operate((both[1],))
    result = Result(TEST, f"{circuit.name} interlock", plus.title, "fault", "hand")
    yield Note(_interlock_result(result, (first, second, after), circuit.gap_ns))


def _interlock_result(
    result: Result, operations: tuple[Operation, Operation, Operation], gap_ns: int
) -> Result:
    first, second, after = operations
    if second.closed_at is not None:
        return result._replace(
            says=("+ and − were closed together. Do not connect this line; report this fault.",)
        )
    if first.opened_at is None or after.closed_at is None:
        says = "It could not be tried: a relay of the line was not given."
        return result._replace(verdict="not judged", says=(says,))
    rest = after.closed_at - first.opened_at
    if rest < gap_ns:
        says = f"− came {ms_text(rest)} after +, before its gap of {duration_text(gap_ns)}."
        return result._replace(says=(f"{says} Do not connect this line; report this fault.",))
    return result._replace(
        verdict="well",
        says=(
            "Asked for together, + came alone and − was refused. Asked for at once after +, − came "
            f"{ms_text(rest)} after + had opened (gap {duration_text(gap_ns)}).",
        ),
    )
