"""How much of the time coils are on: minute by minute, and while dials are driven."""

from __future__ import annotations

from controller.building.durations import MINUTE, SECOND
from controller.building.installed import Line, Zone


def duty(on_ns: int, cycle_ns: int) -> float:
    """The share of a cycle in which a coil is on. Its mean heat is that share of its full heat."""
    return on_ns / cycle_ns


def normal_duty(line: Line) -> float:
    """Of a line that keeps time: one impulse every `every`."""
    return duty(line.impulse_ns, line.every_ns)


def catch_up_duty(line: Line) -> float:
    """Of a line that is driven: one impulse after another with its gap between (design rule 11)."""
    return duty(line.impulse_ns, line.impulse_ns + line.gap_ns)


def bell_duty(zone: Zone) -> float:
    """The most that a zone's bells can be on in a minute, whatever asks for it."""
    return duty(min(zone.a_minute_ns, MINUTE), MINUTE)


def longest_catch_up_seconds(line: Line) -> float:
    """How long the longest catch-up drives the coils, s (design rule 11).

    Dials ahead by no more than `patience` wait; those ahead by one step more are driven round all
    the rest of the face, and time goes on meanwhile.
    """
    waits = line.patience_ns // line.every_ns
    behind = line.positions - waits - 1
    cycle = (line.impulse_ns + line.gap_ns) / SECOND
    return behind * cycle / (1 - cycle * SECOND / line.every_ns)
