"""What the file does not say, and somebody must measure or read off before figures can be whole."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from controller.building.installed import Line
from controller.building.model import Building
from controller.electrics.feeds import Feed, feeds
from controller.electrics.suppressors import placed


class Unmeasured(NamedTuple):
    """One thing that is not known."""

    where: str  # "zones.north", "supply"
    what: str  # "length of its run, m"
    key: str  # where the file takes it: "run_metres"


def unmeasured(building: Building) -> tuple[Unmeasured, ...]:
    """All of it: circuits in the file's order, then returns, supply and battery."""
    found = [one for feed in feeds(building) for one in _of_circuit(feed)]
    for name, shared in building.returns.items():
        if shared.metres is None:
            found.append(Unmeasured(f"returns.{name}", "length of the shared part, m", "metres"))
        if shared.wire is None:
            found.append(Unmeasured(f"returns.{name}", "its conductor", "wire"))
    return (*found, *_of_supply(building))


def _of_circuit(feed: Feed) -> Iterator[Unmeasured]:
    circuit, device = feed.circuit, feed.device
    if feed.number is None:
        yield Unmeasured(feed.name, f"number of {device}s", f"{device}s")
    if circuit.amps_each is None:
        whose = "the line" if feed.in_series else f"each {device}"
        yield Unmeasured(feed.name, f"current of {whose}, A", "amps_each")
    if circuit.run_metres is None:
        yield Unmeasured(feed.name, "length of its run, one way, m", "run_metres")
    if circuit.wire is None:
        yield Unmeasured(feed.name, "conductors of its run", "wire")
    if isinstance(circuit, Line):
        if circuit.ohms_each is None:
            yield Unmeasured(feed.name, "ohms of each dial's coil", "ohms_each")
        if circuit.henries_each is None:
            yield Unmeasured(feed.name, "henries of each dial's coil", "henries_each")
        if feed.in_series and circuit.resistor_ohms is None:
            yield Unmeasured(feed.name, "its dropping resistor, Ω", "resistor_ohms")
    fitted = placed(circuit.suppressor, feed.load)
    stands = fitted.told and fitted.kind in ("zener", "bidirectional", "varistor")
    if stands and circuit.stand_off_volts is None:
        yield Unmeasured(feed.name, "up to what its suppressor stands off, V", "stand_off_volts")


def _of_supply(building: Building) -> Iterator[Unmeasured]:
    battery = building.battery
    if building.supply.amps is None:
        yield Unmeasured("supply", "what it can give in all, A", "amps")
    if battery is None:
        return
    for value, what, key in (
        (battery.amp_hours, "its rated capacity, Ah", "amp_hours"),
        (battery.hours, "how long it is to last, h", "hours"),
        (battery.steady_amps, "what is always on, A", "steady_amps"),
        (battery.fuse_amps, "the fuse at its terminal, A", "fuse_amps"),
    ):
        if value is None:
            yield Unmeasured("battery", what, key)
