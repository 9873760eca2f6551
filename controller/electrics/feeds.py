"""Zones and lines as what hangs on the supply: what each draws, loses on its way, and is left with.

All raise `NotKnown` where the file does not say enough.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from controller.building.conductors import Conductor
from controller.building.installed import Line, Zone
from controller.building.model import Building
from controller.electrics.contacts import coil_amps
from controller.electrics.figures import NotKnown
from controller.electrics.runs import amps_in_return, lost_bunched, lost_spread
from controller.electrics.series import loop_amps
from controller.electrics.supply import needed_volts
from controller.electrics.suppressors import Load
from controller.electrics.wire import COOL, ohms


class Feed(NamedTuple):
    """One circuit: a zone's bells or a line's dials."""

    name: str  # "zones.north"
    circuit: Zone | Line
    number: int | None  # of its bells or dials
    device: Literal["bell", "dial"]
    load: Load

    @property
    def in_series(self) -> bool:
        """Whether one current goes through all its devices."""
        return isinstance(self.circuit, Line) and self.circuit.wired == "series"

    @property
    def devices(self) -> str:
        """Its devices in words: "6 bells", "1 dial", "dials"."""
        number = "" if self.number is None else f"{self.number} "
        return f"{number}{self.device}{'' if self.number == 1 else 's'}"


def feeds(building: Building) -> tuple[Feed, ...]:
    """Every zone and line, in the file's order."""
    zones = (
        Feed(f"zones.{name}", zone, zone.bells, "bell", zone.kind)
        for name, zone in building.zones.items()
    )
    lines = (
        Feed(f"lines.{name}", line, line.dials, "dial", line.drive)
        for name, line in building.lines.items()
    )
    return (*zones, *lines)


# ── what it draws ────────────────────────────────────────────────────────────────────────────────


def amps(feed: Feed) -> float:
    """What it draws at the voltage that it is made for, A."""
    each = feed.circuit.amps_each
    if each is None:
        whose = "the line" if feed.in_series else f"each {feed.device}"
        raise NotKnown(f"current of {whose}")
    return each if feed.in_series else each * _number(feed)


def amps_at(building: Building, feed: Feed, volts: float) -> float:
    """What it draws at another voltage, A; a line in series with the resistor that it has."""
    if feed.in_series:
        return series_amps(building, feed, volts, COOL)
    return coil_amps(amps(feed), building.supply.volts, volts)


def _number(feed: Feed) -> int:
    if feed.number is None:
        raise NotKnown(f"number of {feed.device}s")
    return feed.number


def sharing(building: Building, name: str) -> tuple[Feed, ...]:
    """The circuits that have a return in common."""
    return tuple(feed for feed in feeds(building) if feed.circuit.shares_return == name)


def shared_amps(building: Building, name: str) -> float:
    """The most that goes through a shared return, A. All together never draw more than the supply
    gives (design rule 9)."""
    return amps_in_return([amps(feed) for feed in sharing(building, name)], building.supply.amps)


# ── what it loses ────────────────────────────────────────────────────────────────────────────────


def own_ohms(feed: Feed, celsius: float) -> float:
    """Resistance of its own conductors, Ω: both, or one where its return is shared."""
    circuit = feed.circuit
    out = ohms(*_run(circuit.wire, circuit.run_metres, "its run"), celsius)
    return out if circuit.shares_return is not None else 2 * out


def return_ohms(building: Building, name: str, celsius: float) -> float:
    """Resistance of a shared return, Ω."""
    shared = building.returns[name]
    return ohms(*_run(shared.wire, shared.metres, f"the return {name}"), celsius)


def _run(wire: Conductor | None, metres: float | None, whose: str) -> tuple[Conductor, float]:
    if metres is None:
        raise NotKnown(f"length of {whose}")
    if wire is None:
        raise NotKnown(f"wire of {whose}")
    return wire, metres


def lost_on_own(feed: Feed, celsius: float) -> float:
    """Volts lost in its own conductors, up to its last device. For devices in parallel."""
    resistance = own_ohms(feed, celsius)
    if feed.circuit.spread:
        return lost_spread(amps(feed), resistance, _number(feed))
    return lost_bunched(amps(feed), resistance)


def lost_on_return(building: Building, feed: Feed, celsius: float) -> float:
    """Volts lost in a shared return while all of its circuits are on; 0 where it has its own."""
    name = feed.circuit.shares_return
    if name is None:
        return 0.0
    return lost_in_shared(building, name, celsius)


def lost_in_shared(building: Building, name: str, celsius: float) -> float:
    """Volts lost in a return while all that share it are on."""
    return lost_bunched(shared_amps(building, name), return_ohms(building, name, celsius))


# ── what it is left with ─────────────────────────────────────────────────────────────────────────


def volts_alone(building: Building, feed: Feed, volts: float) -> float:
    """What its last device has while nothing else is on, in cool wire, V."""
    if feed.in_series:
        return series_device_volts(building, feed, volts, COOL)
    name = feed.circuit.shares_return
    back = 0.0 if name is None else return_ohms(building, name, COOL)
    return volts - lost_on_own(feed, COOL) - lost_bunched(amps(feed), back)


def volts_at_worst(building: Building, feed: Feed, volts: float, celsius: float) -> float:
    """What its last device has while all that shares its return is on, V."""
    if feed.in_series:
        given = volts - _lost_to_others(building, feed, celsius)
        return series_device_volts(building, feed, given, celsius)
    return volts - lost_on_own(feed, celsius) - lost_on_return(building, feed, celsius)


def _lost_to_others(building: Building, feed: Feed, celsius: float) -> float:
    """Volts lost in its shared return by the current of all others there."""
    name = feed.circuit.shares_return
    if name is None:
        return 0.0
    others = shared_amps(building, name) - amps(feed)
    return lost_bunched(max(0.0, others), return_ohms(building, name, celsius))


def device_needs(building: Building, feed: Feed) -> float:
    """What each device needs at its terminals to act, V."""
    least = feed.circuit.least_volts
    if least is not None or not feed.in_series:
        return needed_volts(least, building.supply.volts)
    return needed_volts(None, amps(feed) * _ohms_each(feed))


# ── lines in series ──────────────────────────────────────────────────────────────────────────────


def _line(feed: Feed) -> Line:
    assert isinstance(feed.circuit, Line), "only lines are in series"
    return feed.circuit


def _ohms_each(feed: Feed) -> float:
    each = _line(feed).ohms_each
    if each is None:
        raise NotKnown("ohms of each dial")
    return each


def loop_ohms(building: Building, feed: Feed, celsius: float) -> float:
    """Coils and wire of a line in series, without its dropping resistor, Ω."""
    coils = _number(feed) * _ohms_each(feed)
    name = feed.circuit.shares_return
    back = 0.0 if name is None else return_ohms(building, name, celsius)
    return coils + own_ohms(feed, celsius) + back


def series_resistor(feed: Feed) -> float:
    """The dropping resistor of a line in series, Ω; 0 where devices are in parallel."""
    if not feed.in_series:
        return 0.0
    resistor = _line(feed).resistor_ohms
    if resistor is None:
        raise NotKnown("its dropping resistor")
    return resistor


def series_amps(building: Building, feed: Feed, volts: float, celsius: float) -> float:
    """What a line in series really draws, with the resistor that it has, A."""
    return loop_amps(volts, loop_ohms(building, feed, celsius) + series_resistor(feed))


def series_device_volts(building: Building, feed: Feed, volts: float, celsius: float) -> float:
    """What each dial of a line in series has, V."""
    return series_amps(building, feed, volts, celsius) * _ohms_each(feed)
