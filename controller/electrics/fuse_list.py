"""Every fuse of the terminal list: as the file has it, else what is proposed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from controller.building.model import Building
from controller.building.terminals import (
    BATTERY_FUSE,
    CONVERTER_FUSE,
    HEALTH_FUSE,
    INPUTS_FUSE,
    MAIN_FUSE,
)
from controller.electrics.figures import Figure, NotKnown, ToBeMeasured, figure
from controller.electrics.fuses import carrying
from controller.electrics.sheet import circuit_rows
from controller.electrics.supply import window

_INPUT_OHMS_A_VOLT = 3900.0 / 24.0  # before an isolator's LED: 3.9 kΩ at 24 V, the wiring guide
_LED_VOLTS = 1.2  # common practice, no source
_CONVERTER_WATTS = 15.0  # of a Pi and its relay board: a choice, until it is measured
_HEALTH_FUSE_AMPS = 0.5  # of a relay's coil, a timer and a lamp: a choice

Whence = Literal["as in the file", "proposed", "assumed", ""]


class FuseRow(NamedTuple):
    """One fuse. `whence` is "" where it is not known what to propose."""

    name: str  # "F zones.north"
    amps: Figure
    whence: Whence


def fuse_list(building: Building) -> tuple[FuseRow, ...]:
    """Of the house first, then of every zone and line in the file's order."""
    return (*_of_the_house(building), *_of_circuits(building))


def input_amps(building: Building) -> float:
    """What one isolated input draws at the most, A: (V − V of its LED) / R."""
    volts = window(building.supply, building.battery).boosted
    return (volts - _LED_VOLTS) / input_ohms(building)


def input_ohms(building: Building) -> float:
    """The resistor before an isolator's LED, Ω."""
    return _INPUT_OHMS_A_VOLT * building.supply.volts


def _of_the_house(building: Building) -> Iterator[FuseRow]:
    yield _row(MAIN_FUSE, figure(lambda: _main(building)), "proposed")
    if building.battery is not None:
        fitted = building.battery.fuse_amps
        if fitted is not None:
            yield FuseRow(BATTERY_FUSE, fitted, "as in the file")
        else:
            yield _row(BATTERY_FUSE, ToBeMeasured("the fuse at the battery's terminal"), "")
    least = window(building.supply, building.battery).discharged
    yield FuseRow(CONVERTER_FUSE, carrying(_CONVERTER_WATTS / least)[0], "assumed")
    if building.health is not None:
        yield FuseRow(HEALTH_FUSE, _HEALTH_FUSE_AMPS, "assumed")
    if building.panel:
        together = input_amps(building) * len(building.panel)
        yield FuseRow(INPUTS_FUSE, carrying(together)[0], "proposed")


def _main(building: Building) -> float:
    if building.supply.amps is None:
        raise NotKnown("what the supply can give")
    fits = carrying(building.supply.amps)
    if not fits:
        raise NotKnown("a fuse that carries what the supply gives")
    return fits[0]


def _of_circuits(building: Building) -> Iterator[FuseRow]:
    circuits = [*building.zones.values(), *building.lines.values()]
    for circuit, row in zip(circuits, circuit_rows(building), strict=True):
        told = circuit.fuse_amps is not None
        yield _row(f"F {row.circuit}", row.fuse_amps, "as in the file" if told else "proposed")


def _row(name: str, amps: Figure, whence: Whence) -> FuseRow:
    return FuseRow(name, amps, "" if isinstance(amps, ToBeMeasured) else whence)
