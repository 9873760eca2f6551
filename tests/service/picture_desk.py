"""A small building, its state as it is wanted, and the picture of that."""

from __future__ import annotations

from datetime import datetime

from controller.building.file import building_of
from controller.building.sheets import Source
from controller.engine.contract import Now, Play
from controller.engine.records import FaultRow, LineRow, StepRow
from controller.engine.recover import recover
from controller.engine.state import FAR, State
from controller.service.picture import state_picture

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
TEXT = """
[building]
name = "Elm House"
timezone = "America/Halifax"
[supply]
sense = 26
[zones.north]
title = "North wing"
relay = 17
[zones.south]
relay = 18
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [22, 23]
[lines.yard]
drive = "single"
relays = [24]
every = "30s"
[panel.north_switch]
pin = 5
does = "quiet"
zones = ["north"]
[plans.daily]
rings = [
  { at = "08:30", zones = ["north"], for = "5s", says = "First class" },
  { at = "12:00", zones = ["north", "south"], strokes = [1, 0.5, 1], says = "Lunch" },
]
[week]
mon = "daily"
tue = "daily"
wed = "daily"
"""
BUILDING = building_of("elm.toml", [Source("elm.toml", TEXT.encode())])
CIVIL = BUILDING.civil
# A Wednesday; between rings.
START = CIVIL.instant(datetime(2026, 11, 25, 10, 30, 10))
MONO = 5_000 * SECOND


def at(seconds: float = 0, *, trusted: bool = True) -> Now:
    """So many seconds after 10:30:10."""
    later = round(seconds * SECOND)
    return Now(START + later, MONO + later, "boot", trusted)


def row(line: str, shows: str, **more) -> LineRow:
    """A line that is read and shows this."""
    positions = BUILDING.lines[line].positions
    hours, minutes = map(int, shows.split(":"))
    shown = (hours * 60 + minutes) * (positions // 720) % positions
    return LineRow(
        line, True, shown, positions, "-", False, False, None, START - 8 * SECOND
    )._replace(**more)


def state(**more) -> State:
    """All is well: a hand, the supply, both lines right."""
    rows = (row("main", "10:30"), row("yard", "10:30"))
    return recover(BUILDING, rows, at())._replace(**{"hand": "hand-1", **more})


def with_line(line: LineRow, before: State | None = None, **more) -> State:
    known = before or state()
    changed = known.lines[line.line]._replace(row=line, **more)
    return known._replace(lines={**known.lines, line.line: changed})


def with_zone(zone: str, before: State | None = None, **more) -> State:
    known = before or state()
    return known._replace(zones={**known.zones, zone: known.zones[zone]._replace(**more)})


def lasting(name: str, says: str) -> dict[str, FaultRow]:
    return {name: FaultRow(name, says, START - MINUTE, 0, False)}


def pictured(known: State, now: Now | None = None, by: str = "kernel"):
    now = now or at()
    clock = {"trusted": now.trusted, "by": by, "error_seconds": None, "says": ""}
    return state_picture(BUILDING, known, now, clock)


def line_in(known: State, name: str = "main", now: Now | None = None):
    return pictured(known, now)["lines"][name]


def zone_in(known: State, name: str = "north", now: Now | None = None):
    return pictured(known, now)["zones"][name]


def impulse(start: float, *, counts: bool = True) -> dict:
    """An impulse of the main line, out since so many seconds after 10:30:10."""
    mono = MONO + round(start * SECOND)
    step = StepRow(7, "+", START + mono - MONO, mono, "boot", counts, False)
    return {"step": step, "play": Play(7, "hand-1", "lines.main", 0, mono, FAR, (0, SECOND))}
