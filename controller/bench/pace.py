"""How fast relays may be worked: `longest`, `a_minute`, impulse and gap, kept beforehand. Pure.

The hand keeps them all the same. Kept here too, a test is not cut short, and it can be said how
long it takes.
"""

from __future__ import annotations

from collections.abc import Sequence

from controller.bench.operation import LEAD_NS, SETTLE_NS
from controller.building.durations import MINUTE, SECOND
from controller.building.wiring import Circuit
from controller.timetable.contact import Closing, closed_within

TRY_NS = SECOND  # a relay that is tried by itself closes for so long: a choice
SHORT_NS = SECOND // 2  # where it is tried many times: a choice


def length_of(circuit: Circuit, wanted_ns: int) -> int:
    """How long a closing may last: a line's is always its impulse."""
    if circuit.kind == "line":
        return circuit.longest_ns
    return min(wanted_ns, circuit.longest_ns, circuit.a_minute_ns)


def least_period(circuit: Circuit, length_ns: int) -> int:
    """From one closing to the next at least, however long it goes on (ns).

    With so many closings in each minute as fit into `a_minute`, any other minute has as much of
    them: they come at equal distances, a whole number a minute.
    """
    each = length_ns + circuit.gap_ns + SETTLE_NS + LEAD_NS
    if not circuit.a_minute_ns:
        return each
    return max(each, -(-MINUTE // (circuit.a_minute_ns // length_ns)))


def may_start(given: Sequence[Closing], at: int, length_ns: int, a_minute_ns: int) -> int:
    """The first instant from `at` on at which a closing keeps within `a_minute`, after those given.

    The minute that ends with it is the fullest; it empties as its beginning passes over a closing.
    """
    while (excess := closed_within(given, at + length_ns - MINUTE, at) + length_ns) > a_minute_ns:
        begin = at + length_ns - MINUTE
        first, until = next((a, b) for a, b in sorted(given) if b > begin)
        at += max(0, first - begin) + min(until - max(first, begin), excess - a_minute_ns)
    return at
