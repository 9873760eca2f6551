"""What sounded and what was missed in a small world, in seconds from 08:29."""

from __future__ import annotations

from datetime import datetime

from small_world import SECOND, SmallWorld

from controller.engine.records import MissRow

DAY_0829 = datetime(2026, 11, 25, 8, 29)


def sounded(world: SmallWorld, zone: str = "north") -> list[tuple[float, float]]:
    """(seconds from 08:29 to the closing, its length) of a zone."""
    start = world.building.civil.instant(DAY_0829)
    return [
        ((a - start) / SECOND, (b - a) / SECOND)
        for circuit, _, a, b in world.closings
        if circuit == f"zones.{zone}"
    ]


def misses(world: SmallWorld) -> list[tuple[str, str]]:
    rows = [row for row in world.store.values() if isinstance(row, MissRow)]
    return [(row.written[11:], row.why) for row in rows if row.why]


def silences(world: SmallWorld, zone: str = "north") -> list[float]:
    """Seconds from 08:29 at which a zone fell silent."""
    return [round(at + length, 3) for at, length in sounded(world, zone)]
