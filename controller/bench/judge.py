"""What an operation shows of its relay: faults by name, with what to look at; and times. Pure.

stuck, welded, slow and bouncing are the hand's findings (`circuits/senses.py`, where their limits
stand). Where a contact did not move and another did, it is no stuck one: wires are exchanged.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from statistics import median
from typing import Literal, NamedTuple

from controller.bench.operation import Key, Operation
from controller.bench.steps import Relay
from controller.building.durations import SECOND
from controller.circuits.lines import named
from controller.circuits.senses import MILLISECOND, RELAY_NEEDS_NS, SETTLES_NS

LATE_NS = RELAY_NEEDS_NS  # after its instant: what a relay may need, and the hand next to nothing
Kind = Literal[
    "stuck",
    "welded",
    "slow",
    "bouncing",
    "swapped",
    "joined",
    "refused",
    "cut",
    "silent",
]
Relays = Mapping[Key, Relay]


class Finding(NamedTuple):
    """A fault, and where to look."""

    kind: Kind
    says: str


class Timing(NamedTuple):
    """By a contact's sense: ns. None where it did not move."""

    pull_in_ns: int | None
    closing_bounce_ns: int
    drop_out_ns: int | None
    opening_bounce_ns: int


class Spread(NamedTuple):
    """Of a time over several operations, ns."""

    least: int
    median: int
    worst: int


# ── faults ───────────────────────────────────────────────────────────────────────────────────────


def findings(relay: Relay, operation: Operation, relays: Relays) -> tuple[Finding, ...]:
    """What is wrong with a relay by this operation of it, the gravest first."""
    others = [relays[key] for key in _others_that_closed(operation) if key in relays]
    moved = contact_closed(operation)
    found: list[Finding] = []
    if operation.closed_at is None:
        return (_not_given(relay, operation, relays),)
    if others and not moved:
        found.append(_swapped(relay, others[0]))
    elif others:
        found.append(_joined(relay, others[0]))
    if relay.sense is not None:
        kinds = operation.lasting - ({"stuck", "welded"} if others and not moved else set())
        found += [_by_sense(relay, kind) for kind in _IN_ORDER if kind in kinds]
    if not found and _was_cut(operation):
        found.append(_cut(relay, operation))
    return tuple(found)


def contact_closed(operation: Operation) -> bool:
    """Whether its own contact read closed."""
    return any(edge.closed and edge[:2] == operation.key for edge in operation.edges)


def was_late(operation: Operation) -> bool:
    """Whether its contact, or where none is sensed its coil, closed more than LATE_NS after it was
    wanted.
    """
    if operation.closed_at is None:
        return False
    moved = timing(operation).pull_in_ns or 0
    return operation.closed_at + moved > (operation.wanted.at or operation.start) + LATE_NS


def by_person(relay: Relay, answer: str) -> tuple[Finding, ...]:
    """What a person's answer says of a relay: nothing moved ("n"), or another one ("o")."""
    match answer:
        case "n":
            return (_by_sense(relay, "stuck"),)
        case "o":
            return (
                Finding(
                    "swapped",
                    f"{relay.name} is swapped: another relay moved. Compare its pin in the file, "
                    f"GPIO{relay.pin}, with the wire from the header to the relay board.",
                ),
            )
    return ()


def line_swapped(plus: Relay, minus: Relay) -> Finding:
    """A person saw − where + was asked for."""
    return Finding(
        "swapped",
        f"{plus.circuit.name} is swapped: + and − are exchanged. Change over the pair at the "
        f"terminals, or the wires to {named([plus.pin, minus.pin])}, or the two numbers of "
        "`relays` in the file.",
    )


def line_dead(plus: Relay) -> Finding:
    """A person saw nothing, or something else, at the terminals of a line."""
    return Finding(
        "stuck",
        f"{plus.circuit.name}: not what was asked for came out at the terminals. Look at the "
        f"line's fuse, at the 24 V at its contacts, and at the coils on "
        f"{named(list(plus.circuit.relays))}.",
    )


_IN_ORDER = ("welded", "stuck", "slow", "bouncing")


def _by_sense(relay: Relay, kind: Kind) -> Finding:
    name, pin = relay.name, f"GPIO{relay.pin}"
    sense = "" if relay.sense is None else f"; or its sense on GPIO{relay.sense} is not joined"
    match kind:
        case "stuck":
            says = (
                f"stuck: its contact does not close. Look at the coil's supply and fuse, at the "
                f"driver and the wire to {pin}, and at `active`{sense}."
            )
        case "welded":
            says = (
                "welded: its contact stays closed though its coil is let go. Take its circuit's "
                "fuse out now, and exchange the relay; then ask why: a missing suppressor, or more "
                "current than the contact is made for. (Or `active` is the wrong way round on "
                f"{pin}.)"
            )
        case "slow":
            says = (
                f"slow: its contact moves more than {RELAY_NEEDS_NS // MILLISECOND} ms after its "
                "coil. Measure the coil's voltage while it is energised; a diode of its own across "
                "the coil makes it slow to open; else it is worn or dirty: exchange it."
            )
        case _:
            says = (
                f"bouncing: its contact bounces for more than {SETTLES_NS // MILLISECOND} ms, or "
                "lets go while it should hold. Look for a loose wire at coil, contact and sense, "
                "and for a coil with too little voltage; else the contact is worn: exchange the "
                "relay."
            )
    return Finding(kind, f"{name} is {says}")


def _swapped(relay: Relay, other: Relay) -> Finding:
    return Finding(
        "swapped",
        f"{relay.name} is swapped: it was asked for, and the contact of {other.name} closed. Their "
        f"wires are exchanged: change over those to {named([relay.pin, other.pin])} at the relay "
        "board, or the numbers in the file; or, if it was the right relay that moved, the wires of "
        "their senses.",
    )


def _joined(relay: Relay, other: Relay) -> Finding:
    return Finding(
        "joined",
        f"{relay.name} was asked for, and the contact of {other.name} closed with it. Look for a "
        f"bridge between {named([relay.pin, other.pin])}, at the board and between the senses.",
    )


def _not_given(relay: Relay, operation: Operation, relays: Relays) -> Finding:
    """Its coil was never energised; why, as far as that can be told."""
    if operation.outcome is None:
        return Finding("silent", f"{relay.name}: the hand never said what became of it.")
    welded = [relays[key] for key in operation.welded if key[0] == operation.wanted.circuit]
    if relay in welded:
        return _by_sense(relay, "welded")
    if welded:
        return Finding(
            "refused",
            f"{relay.name} was not given: {welded[0].name} stays closed, and the interlock waits "
            "until it opens.",
        )
    return Finding("refused", f"{relay.name} was not given: the hand refused it{_by(operation)}.")


def _cut(relay: Relay, operation: Operation) -> Finding:
    return Finding("cut", f"{relay.name} was cut short{_by(operation)}.")


def _by(operation: Operation) -> str:
    if not operation.stopped_by:
        return ""
    return f", for {' and '.join(operation.stopped_by)} on the panel is closed; open it"


def _was_cut(operation: Operation) -> bool:
    return operation.outcome is not None and operation.outcome.how == "cut"


def _others_that_closed(operation: Operation) -> list[Key]:
    """Contacts of other relays that closed after its coil was energised, and before it was let go
    and a contact has had its time.
    """
    if operation.closed_at is None:
        return []
    until = (operation.opened_at or operation.closed_at) + RELAY_NEEDS_NS
    closed = [e for e in operation.edges if e.closed and operation.closed_at <= e.mono < until]
    return list(dict.fromkeys(edge[:2] for edge in closed if edge[:2] != operation.key))


# ── times ────────────────────────────────────────────────────────────────────────────────────────


def timing(operation: Operation) -> Timing:
    """Pull-in and drop-out delay from the coil's order to the first edge, and how long its contact
    then bounced: to the last.
    """
    closed_at, opened_at = operation.closed_at, operation.opened_at
    if closed_at is None or opened_at is None:
        return Timing(None, 0, None, 0)
    own = [edge for edge in operation.edges if edge[:2] == operation.key]
    closing = [e.mono for e in own if closed_at <= e.mono < opened_at]
    opening = [e.mono for e in own if e.mono >= opened_at]
    return Timing(*_delay(closing, closed_at), *_delay(opening, opened_at))


def _delay(edges: Sequence[int], since: int) -> tuple[int | None, int]:
    return (edges[0] - since, edges[-1] - edges[0]) if edges else (None, 0)


def spread(times: Iterable[int | None]) -> Spread | None:
    """Least, median and worst of those that were measured; None of none."""
    measured = sorted(one for one in times if one is not None)
    if not measured:
        return None
    return Spread(measured[0], round(median(measured)), measured[-1])


def ms_text(nanoseconds: int) -> str:
    """ "6.1 ms", "1.204 s"."""
    if nanoseconds >= SECOND:
        return f"{nanoseconds / SECOND:.3f} s"
    return f"{nanoseconds / MILLISECOND:.1f} ms"


# ── several operations ───────────────────────────────────────────────────────────────────────────


def summed(found: Counter[Finding], of: int) -> tuple[str, ...]:
    """What was found in several operations: each fault once, with how often it was seen."""
    return tuple(
        finding.says if of == 1 else f"{finding.says} ({count} of {of})"
        for finding, count in found.most_common()
    )
