"""Amps and volts of every circuit and of the supply, as the wiring sheet prints them."""

from __future__ import annotations

from typing import NamedTuple

from controller.building.installed import Line
from controller.building.model import Building
from controller.electrics.coils import bell_duty, catch_up_duty, normal_duty
from controller.electrics.demand import aged_hours, demand, needed_amp_hours, steady_amps
from controller.electrics.feeds import (
    Feed,
    amps,
    amps_at,
    device_needs,
    feeds,
    loop_ohms,
    lost_in_shared,
    own_ohms,
    return_ohms,
    shared_amps,
    sharing,
    volts_alone,
    volts_at_worst,
)
from controller.electrics.figures import Figure, NotKnown, ToBeMeasured, figure
from controller.electrics.fuses import carrying, most_fuse_amps
from controller.electrics.limits import class_2_fuse_amps
from controller.electrics.load import Played, catch_up_amps, keeping_time_amps
from controller.electrics.protection import contact_makes_amps, release_of, short_amps, snubber_of
from controller.electrics.series import dropping_ohms, watts
from controller.electrics.supply import Window, window
from controller.electrics.suppressors import Snubber, Suppressor, advised
from controller.electrics.wire import COOL, WARM


class CircuitRow(NamedTuple):
    """One zone or line. Normal: on float, alone, at 20 °C. Worst: see each."""

    circuit: str  # "zones.north"
    devices: str  # "6 bells"
    amps: Figure  # at the supply's nominal voltage
    most_amps: Figure  # on boost
    run_ohms: Figure  # its own conductors, at 20 °C
    volts: Figure  # at the last device, normal
    worst_volts: Figure  # there at the battery's end, all on that shares its return, at 40 °C
    needed_volts: Figure
    duty: float  # the share of the time that coils are on: a line keeping time, a zone at the most
    catch_up_duty: float | None  # of a line that is driven; None of a zone
    mean_amps: Figure | None  # of a line keeping time; None of a zone
    catch_up_amps: Figure | None  # of a line that is driven, also a mean
    fuse_amps: Figure  # as fitted, else the smallest that carries it
    wire_bears_amps: Figure  # the largest fuse that protects its wire
    short_amps: Figure  # a short at the far end, at the worst
    contact_makes_amps: Figure
    suppressor: Suppressor  # as advised
    snubber: Snubber | None  # R and C over the contact; None where there are none
    release_seconds: Figure  # of a line's coils
    resistor: Figure  # Ω, of a line in series: as fitted, else as needed
    resistor_watts: Figure  # while it is on, on boost; buy twice that


class ReturnRow(NamedTuple):
    """A return that several circuits share."""

    name: str
    circuits: tuple[str, ...]
    amps: Figure  # all of them on, no more than the supply gives
    ohms: Figure  # at 20 °C
    worst_lost_volts: Figure  # at 40 °C


class SupplyRow(NamedTuple):
    """What is asked of the supply."""

    window: Window
    worst_amps: Figure  # bells and dials, in their worst second
    worst_utc: int | None  # when that begins
    amp_hours_a_day: Figure  # of bells and dials
    steady_amps: Figure
    needed_amp_hours: Figure  # of the battery, for its hours, with ageing
    lasts_hours: Figure  # once aged
    class_2_fuse_amps: float  # the largest fuse of a Class 2 circuit


def circuit_rows(building: Building) -> tuple[CircuitRow, ...]:
    """Every zone and line, in the file's order."""
    return tuple(_row(building, feed) for feed in feeds(building))


def _row(building: Building, feed: Feed) -> CircuitRow:
    supply, circuit = window(building.supply, building.battery), feed.circuit
    line = circuit if isinstance(circuit, Line) else None
    drawn = figure(lambda: amps(feed))
    return CircuitRow(
        feed.name,
        feed.devices,
        drawn,
        figure(lambda: amps_at(building, feed, supply.boosted)),
        figure(lambda: own_ohms(feed, COOL)),
        figure(lambda: volts_alone(building, feed, supply.floating)),
        figure(lambda: volts_at_worst(building, feed, supply.discharged, WARM)),
        figure(lambda: device_needs(building, feed)),
        normal_duty(circuit) if isinstance(circuit, Line) else bell_duty(circuit),
        None if line is None else catch_up_duty(line),
        None if line is None else figure(lambda: keeping_time_amps(line, amps(feed))),
        None if line is None else figure(lambda: catch_up_amps(line, amps(feed))),
        figure(lambda: _fuse(feed)),
        figure(lambda: _wire_bears(feed)),
        figure(lambda: short_amps(building, feed)),
        figure(lambda: contact_makes_amps(building, feed)),
        advised(feed.load, supply.boosted),
        None if isinstance(drawn, ToBeMeasured) else snubber_of(building, feed),
        figure(lambda: release_of(building, feed)),
        figure(lambda: _resistor(building, feed, supply.floating)),
        figure(lambda: _resistor_watts(building, feed, supply)),
    )


def _fuse(feed: Feed) -> float:
    """As fitted, else the smallest that carries its load."""
    if feed.circuit.fuse_amps is not None:
        return feed.circuit.fuse_amps
    fits = carrying(amps(feed))
    if not fits:
        raise NotKnown("a fuse that carries it; split the circuit in two")
    return fits[0]


def _wire_bears(feed: Feed) -> float:
    if feed.circuit.wire is None:
        raise NotKnown("wire of its run")
    return most_fuse_amps(feed.circuit.wire)


def _resistor(building: Building, feed: Feed, volts: float) -> float:
    """What it has, else what sets its current; 0 for dials in parallel and bells."""
    if not feed.in_series:
        return 0.0
    assert isinstance(feed.circuit, Line), "only lines are in series"
    fitted = feed.circuit.resistor_ohms
    if fitted is not None:
        return fitted
    return max(0.0, dropping_ohms(volts, amps(feed), loop_ohms(building, feed, COOL)))


def _resistor_watts(building: Building, feed: Feed, supply: Window) -> float:
    if not feed.in_series:
        return 0.0
    resistor = _resistor(building, feed, supply.floating)
    return watts(supply.boosted / (loop_ohms(building, feed, COOL) + resistor), resistor)


def return_rows(building: Building) -> tuple[ReturnRow, ...]:
    """Every shared return, in the file's order."""
    return tuple(_return_row(building, name) for name in building.returns)


def _return_row(building: Building, name: str) -> ReturnRow:
    return ReturnRow(
        name,
        tuple(feed.name for feed in sharing(building, name)),
        figure(lambda: shared_amps(building, name)),
        figure(lambda: return_ohms(building, name, COOL)),
        figure(lambda: lost_in_shared(building, name, WARM)),
    )


def supply_row(building: Building, played: Played | None) -> SupplyRow:
    """The supply as the played week loads it; where none was played, that is to be measured."""
    supply = window(building.supply, building.battery)
    fuse, steady = class_2_fuse_amps(supply.boosted), figure(lambda: steady_amps(building))
    try:
        asked = demand(building, played)
    except NotKnown as missing:
        unknown = ToBeMeasured(str(missing))
        return SupplyRow(supply, unknown, None, unknown, steady, unknown, unknown, fuse)
    return SupplyRow(
        supply,
        asked.worst.amps,
        asked.worst.utc,
        asked.amp_hours_a_day,
        steady,
        figure(lambda: needed_amp_hours(building, asked)),
        figure(lambda: aged_hours(building, asked)),
        fuse,
    )
