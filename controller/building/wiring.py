"""What the hand must know of the building, plain enough to cross to another process.

Circuits and panel inputs in the file's order. Nothing here imports pydantic, so the hand starts
quickly and carries little: the daemon makes a `Wiring`, sends its JSON, the hand reads it back.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, cast

if TYPE_CHECKING:
    from controller.building.model import Building

Level = Literal["high", "low"]


class Circuit(NamedTuple):
    """One bell zone or one line of dials, and the limits that the hand keeps by itself."""

    name: str  # "zones.north", "lines.main"
    kind: Literal["zone", "line"]
    relays: tuple[int, ...]  # BCM pins; on an alternating line [+, −]
    active: Level  # the level that energises
    longest_ns: int  # one continuous closing; on a line its impulse
    a_minute_ns: int  # total closing in any 60 s; 0 on a line, which has none
    gap_ns: int  # least rest after a closing; 0 in a zone
    sense: tuple[int, ...] | None  # inputs that read the contacts back, one a relay


class PanelInput(NamedTuple):
    """One old button or switch."""

    name: str
    pin: int
    active: Level  # the level while its contact is closed
    debounce_ns: int
    does: Literal["ring", "stop", "quiet", "step"]
    zones: tuple[str, ...]
    line: str | None


class Wiring(NamedTuple):
    """Everything that the hand holds."""

    circuits: tuple[Circuit, ...]
    panel: tuple[PanelInput, ...]
    health: tuple[int, Level] | None  # pin, and the level that energises
    supply_sense: int | None  # input that is active while the supply is there

    def to_json(self) -> str:
        """One line of JSON."""
        return json.dumps(
            {
                "circuits": [circuit._asdict() for circuit in self.circuits],
                "panel": [entry._asdict() for entry in self.panel],
                "health": self.health,
                "supply_sense": self.supply_sense,
            }
        )


def from_json(text: str) -> Wiring:
    """The wiring that `to_json` wrote. `ValueError`, `KeyError` or `TypeError` on anything else."""
    plain = json.loads(text)
    circuits = (
        Circuit(**{**one, "relays": tuple(one["relays"]), "sense": _pins(one["sense"])})
        for one in plain["circuits"]
    )
    panel = (PanelInput(**{**one, "zones": tuple(one["zones"])}) for one in plain["panel"])
    health = plain["health"]
    return Wiring(
        tuple(circuits),
        tuple(panel),
        None if health is None else cast(tuple[int, Level], tuple(health)),
        plain["supply_sense"],
    )


def wiring_of(building: Building) -> Wiring:
    """What the hand must know of `building`: zones first, then lines, each in the file's order."""
    zones = (
        Circuit(
            f"zones.{name}",
            "zone",
            (zone.relay,),
            zone.active,
            zone.longest_ns,
            zone.a_minute_ns,
            0,
            None if zone.sense is None else (zone.sense,),
        )
        for name, zone in building.zones.items()
    )
    lines = (
        Circuit(
            f"lines.{name}",
            "line",
            line.relays,
            line.active,
            line.impulse_ns,
            0,
            line.gap_ns,
            line.sense,
        )
        for name, line in building.lines.items()
    )
    panel = tuple(
        PanelInput(
            name, entry.pin, entry.active, entry.debounce_ns, entry.does, entry.zones, entry.line
        )
        for name, entry in building.panel.items()
    )
    health = building.health
    return Wiring(
        (*zones, *lines),
        panel,
        None if health is None else (health.relay, health.active),
        building.supply.sense,
    )


def _pins(pins: Any) -> tuple[int, ...] | None:
    return None if pins is None else tuple(pins)
