"""Everything that will not work as the file has it, in words that tell what to change."""

from __future__ import annotations

from controller.building.model import Building
from controller.electrics.figures import Finding
from controller.electrics.load import Played
from controller.electrics.protection import protection_findings
from controller.electrics.supply_findings import supply_findings
from controller.electrics.volt_findings import volt_findings


def findings(building: Building, played: Played | None) -> tuple[Finding, ...]:
    """All findings, those of a circuit together and in the file's order, the supply's last.

    `played` is what the relays do in a week of the timetable; None where nobody has played it, and
    then nothing is said of what it asks of the supply.
    """
    found = (
        *volt_findings(building),
        *protection_findings(building),
        *supply_findings(building, played),
    )
    order = [f"zones.{name}" for name in building.zones]
    order += [f"lines.{name}" for name in building.lines]
    order += [f"returns.{name}" for name in building.returns]
    place = {circuit: number for number, circuit in enumerate((*order, "supply", "battery"))}
    return tuple(sorted(found, key=lambda one: place[one.circuit]))
