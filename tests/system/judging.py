"""Judges of what the lines did: dials modelled from edges alone, and the daemon's words beside.

Nothing here asks the daemon what it gave; it is only asked what it believes, which is compared.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from guest_at_work import HALL, MAIN, RELAYS
from machine import Machine
from recording import Closing, Edge, closings, overlaps, turned_round

from controller.dials.modelled import ModelDial, Polarity, after_impulse, model_dials

MINUTES = 720  # of a face of 12 h
SECOND = 1_000_000_000
TICK_SECONDS = 0.02  # the record's


class Line(NamedTuple):
    """An alternating line of the building, as the test's own file has it."""

    name: str
    relays: tuple[int, int]  # +, −
    impulse: float  # s
    gap: float


MAIN_LINE = Line("main", MAIN, 1.0, 1.0)
HALL_LINE = Line("hall", HALL, 0.6, 0.4)


def face(minutes: int) -> str:
    return f"{minutes // 60 % 12:02}:{minutes % 60:02}"


def minutes_of(shows: str) -> int:
    hours, minutes = shows.split(":")[:2]
    return (int(hours) * 60 + int(minutes)) % MINUTES


def dials_after(
    line: Line, given: Iterable[Closing], shows: int, took: Polarity
) -> tuple[ModelDial, ...]:
    """Three dials that stood alike, after these closings."""
    dials = model_dials(shows, took)
    for one in given:
        if one.line in line.relays and one.ended is not None:
            polarity: Polarity = "+" if one.line == line.relays[0] else "-"
            lasted, whole = round(one.seconds * SECOND), round(line.impulse * SECOND)
            dials = after_impulse(dials, polarity, lasted, whole, MINUTES)
    return dials


def wrong_edges(edges: list[Edge]) -> list[str]:
    """What no run may show, whatever happened in it."""
    given = closings(edges, RELAYS)
    said = [f"made an input: {edge}" for edge in turned_round(edges, RELAYS)]
    for line in (MAIN_LINE, HALL_LINE):
        said += overlaps(given, *line.relays, line.gap)
    return said


def drive(on: Machine, line: Line, shows: str, polarity: str = "-") -> int:
    """Let a line go from there on; the place in the record from which to judge its dials."""
    mark = on.record.mark()
    on.order("set", line=line.name, shows=shows, polarity=polarity)
    return mark


def exact(on: Machine, line: Line, since: int, shows: str, took: Polarity = "-") -> str:
    """Hold the line, which is answered when its last impulse has ended, and compare: what its
    modelled dials show, all alike and as the daemon says.
    """
    on.order("hold", line=line.name)
    believed = on.status()["lines"][line.name]
    given = closings(on.record.since(since), RELAYS)
    dials = dials_after(line, given, minutes_of(shows), took)
    showing = sorted({face(dial.shows) for dial in dials})
    assert showing == [believed["shows"]], f"dials {showing}, believed {believed}"
    assert not believed["doubtful"], believed
    return showing[0]
