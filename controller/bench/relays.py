"""The test `relays`: each by its name, one after another."""

from __future__ import annotations

from controller.bench.judge import by_person, findings, ms_text, timing
from controller.bench.operation import Operation, Wanted
from controller.bench.pace import TRY_NS, length_of
from controller.bench.plan import Plan, called, given, not_done
from controller.bench.steps import (
    Announce,
    Ask,
    Health,
    Note,
    Operate,
    Pause,
    Relay,
    Result,
    Say,
    Script,
)
from controller.building.durations import SECOND, duration_text

TEST = "relays"
HEALTH = "health"
_ANSWERS = (("y", "yes"), ("n", "no, nothing"), ("o", "no, another"), ("a", "again"))


def relays(plan: Plan) -> Script:
    """Close each relay once; its sense says what its contact did, or a person does."""
    things = [(relay.name, relay.title) for relay in plan.relays]
    things += [(HEALTH, "")] if plan.health else []
    about = f"{len(things)} relays, one after another: {', '.join(name for name, _ in things)}."
    if not (yield Announce(TEST, about, _moves(plan), _before(plan))):
        for name, title in things:
            yield not_done(TEST, name, title)
        return
    for place, relay in enumerate(plan.relays, 1):
        yield from _relay(plan, relay, f"{place} of {len(things)}")
    if plan.health:
        yield from _health(f"{len(things)} of {len(things)}")


def _moves(plan: Plan) -> str:
    zones = any(relay.circuit.kind == "zone" for relay in plan.relays)
    lines = any(relay.circuit.kind == "line" for relay in plan.relays)
    said = ["Bells that are connected ring for a second."] if zones else []
    said += ["Dials that are connected take an impulse, + and then −."] if lines else []
    said += ["The health relay lets go for a second."] if plan.health else []
    return " ".join(said)


def _before(plan: Plan) -> str:
    said = (
        "Take out the fuses of bells and lines that are to stay still; see that nobody is at one."
    )
    if any(relay.sense is None for relay in plan.relays):
        said += " Stand where you hear and see the relays: some have no sense, and you are asked."
    return said


def _relay(plan: Plan, relay: Relay, place: str) -> Script:
    length = length_of(relay.circuit, TRY_NS)
    while True:
        yield Say(f"{place}  {called(relay)}, GPIO{relay.pin}: closes for {duration_text(length)}")
        (operation,) = yield Operate((Wanted(*relay.key, length),))
        found = findings(relay, operation, plan.every)
        answer = None
        if relay.sense is None and not found:
            answer = yield Ask("Did it close and open, and it alone?", _ANSWERS)
        if answer != "a":
            break
    result = given(TEST, relay, moved_text(operation), found)
    if answer is not None:
        seen = tuple(finding.says for finding in by_person(relay, answer))
        result = result._replace(verdict="fault" if seen else "well", by="person", says=seen)
    yield Note(result)


def moved_text(operation: Operation) -> str:
    """When a contact closed and opened."""
    moved = timing(operation)
    if moved.pull_in_ns is None or moved.drop_out_ns is None:
        return ""
    return (
        f"Closed {ms_text(moved.pull_in_ns)} after its coil was energised, opened "
        f"{ms_text(moved.drop_out_ns)} after it was let go."
    )


def _health(place: str) -> Script:
    while True:
        yield Say(f"{place}  {HEALTH}: lets go for a second, and closes again")
        yield Health(False)
        yield Pause(SECOND)
        yield Health(True)
        yield Pause(SECOND // 5)
        answer = yield Ask("Did it open and close, and it alone?", _ANSWERS)
        if answer != "a":
            break
    result = Result(TEST, HEALTH, "", "fault", "person")
    match answer:
        case "y":
            result = result._replace(verdict="well")
        case "n":
            says = "health: it did not move. Look at its coil, its driver, and `active`."
            result = result._replace(says=(says,))
        case "o":
            says = "health: another relay moved. Compare its pin in the file with its wire."
            result = result._replace(says=(says,))
        case _:
            says = "It was let go for a second; nobody watched."
            result = result._replace(verdict="not judged", by="", says=(says,))
    yield Note(result)
