"""What is to be tried of a building, and in what words its parts are told. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from controller.bench.judge import Finding, Relays
from controller.bench.steps import Judge, Note, Relay, Result
from controller.building.faults import not_known
from controller.building.wiring import PanelInput, wiring_of

if TYPE_CHECKING:
    from controller.building.model import Building


class Plan(NamedTuple):
    """What every script works from."""

    relays: tuple[Relay, ...]  # those that are tried, in the file's order
    every: Relays  # all of the building
    health: bool  # whether its health relay is tried
    panel: tuple[PanelInput, ...]
    supply_sensed: bool
    operations: int  # of each relay, where times are measured
    endures: int  # operations of each circuit in `endurance`
    rate: float | None  # of them a minute; None: as fast as may be
    watch_ns: int  # how long inputs are watched

    @property
    def circuits(self) -> Iterator[tuple[Relay, ...]]:
        """Circuit by circuit: its relays, which are all there or none."""
        for _, relays in groupby(self.relays, lambda relay: relay.circuit.name):
            yield tuple(relays)


def plan_of(
    building: Building,
    only: Sequence[str],
    *,
    operations: int,
    endures: int,
    rate: float | None,
    watch_ns: int,
) -> Plan:
    """All of a building, or `only` some zones and lines: "north", "zones.north". `ValueError` where
    it has none of that name, or a zone and a line share it.
    """
    wiring = wiring_of(building)
    titles = {f"zones.{name}": zone.title for name, zone in building.zones.items()}
    titles |= {f"lines.{name}": line.title for name, line in building.lines.items()}
    every = [
        Relay(circuit, number, titles[circuit.name])
        for circuit in wiring.circuits
        for number in range(len(circuit.relays))
    ]
    chosen = {_meant(name, titles) for name in only} or set(titles)
    return Plan(
        tuple(relay for relay in every if relay.circuit.name in chosen),
        {relay.key: relay for relay in every},
        wiring.health is not None and not only,
        wiring.panel,
        wiring.supply_sense is not None,
        operations,
        endures,
        rate,
        watch_ns,
    )


def _meant(name: str, circuits: Collection[str]) -> str:
    found = [circuit for circuit in circuits if name in (circuit, circuit.partition(".")[2])]
    if len(found) > 1:
        raise ValueError(f"{name!r} is a zone and a line: say {' or '.join(found)}")
    if not found:
        raise ValueError(not_known("zone or line", name, circuits))
    return found[0]


def called(relay: Relay) -> str:
    """ "zones.north, North wing"; the name alone where it has no title."""
    return f"{relay.name}, {relay.title}" if relay.title else relay.name


def circuit_called(relay: Relay) -> str:
    """The same of its circuit."""
    name = relay.circuit.name
    return f"{name}, {relay.title}" if relay.title else name


def not_done(test: str, what: str, title: str) -> Note:
    """The person would not have it."""
    return Note(Result(test, what, title, "not done", ""))


def given(test: str, relay: Relay, says: str, found: Sequence[Finding] = ()) -> Result:
    """A result of one relay by its sense, or by nobody where it has none."""
    if found:
        told = tuple(finding.says for finding in found)
        by_hand = found[0].kind in ("refused", "cut", "silent")
        by: Judge = "hand" if by_hand else "sense"
        return Result(test, relay.name, relay.title, "fault", by, told)
    if relay.sense is None:
        words = "Worked; it has no sense, and nobody watched."
        return Result(test, relay.name, relay.title, "not judged", "", (words,))
    return Result(test, relay.name, relay.title, "well", "sense", (says,))
