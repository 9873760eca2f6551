"""The supply and its battery against what is drawn, and coils that would be on too much."""

from __future__ import annotations

from collections.abc import Iterator

from controller.building.installed import Battery
from controller.building.model import Building
from controller.electrics.coils import catch_up_duty, longest_catch_up_seconds
from controller.electrics.demand import (
    Demand,
    aged_hours,
    demand,
    mean_amps,
    needed_amp_hours,
    peak_amps,
)
from controller.electrics.figures import Finding, as_known
from controller.electrics.fuses import STEADY_SHARE, carrying
from controller.electrics.limits import exceeded
from controller.electrics.load import Played
from controller.electrics.supply import window

_HAIR = 1e-9  # amperes: sums of decimal fractions are not exact
_MOST_DUTY = 0.5  # of a coil made for impulses, while dials are driven: a choice
_APART = 0.2  # of the nominal voltage: a battery's cells may be off by so much. A choice


def supply_findings(building: Building, played: Played | None) -> Iterator[Finding]:
    """Of the supply, its battery and the coils. Without a played week only what needs none."""
    yield from _limits(building)
    yield from _coils(building)
    if building.battery is None:
        return
    yield from _cells(building, building.battery)
    yield from _main_fuse_last(building, building.battery)
    yield from as_known(_asked(building, building.battery, played))


def _asked(building: Building, battery: Battery, played: Played | None) -> Iterator[Finding]:
    asked = demand(building, played)
    yield from as_known(_carried(building, battery, asked))
    yield from as_known(_lasts(building, battery, asked))


def _limits(building: Building) -> Iterator[Finding]:
    volts = window(building.supply, building.battery).boosted
    for limit in exceeded(volts):
        yield Finding(
            "supply",
            "limit",
            f"it gives up to {volts:.3g} V; {limit.says} {limit.volts:g} V DC ({limit.source}). "
            "Your local code decides: ask it before you connect.",
        )


def _coils(building: Building) -> Iterator[Finding]:
    for name, line in building.lines.items():
        if catch_up_duty(line) > _MOST_DUTY:
            minutes = longest_catch_up_seconds(line) / 60
            yield Finding(
                f"lines.{name}",
                "coil",
                f"while its dials are driven their coils are on {catch_up_duty(line):.0%} of the "
                f"time, for up to {minutes:.0f} min. Set a gap no shorter than the impulse.",
            )


def _cells(building: Building, battery: Battery) -> Iterator[Finding]:
    volts, nominal = building.supply.volts, 2.0 * battery.cells
    if abs(nominal - volts) > _APART * volts:
        yield Finding(
            "battery",
            "battery",
            f"{battery.cells} cells are {nominal:g} V, and the supply is {volts:g} V. Set cells to "
            f"{round(volts / 2)}, or the supply's volts to what it has.",
        )


def _main_fuse_last(building: Building, battery: Battery) -> Iterator[Finding]:
    """A short in one circuit is to put out that circuit alone (common practice, no source)."""
    circuits = {f"zones.{name}": zone.fuse_amps for name, zone in building.zones.items()}
    circuits |= {f"lines.{name}": line.fuse_amps for name, line in building.lines.items()}
    for name, fuse in circuits.items():
        if battery.fuse_amps is not None and fuse is not None and fuse >= battery.fuse_amps:
            yield Finding(
                "battery",
                "fuse",
                f"its fuse of {battery.fuse_amps:g} A is no larger than that of {name}, {fuse:g} A:"
                " a short there would put the whole house out. Fit a larger main fuse, if its "
                "wire bears it.",
            )


def _carried(building: Building, battery: Battery, asked: Demand) -> Iterator[Finding]:
    peak = peak_amps(building, asked)
    amps = building.supply.amps
    if amps is not None and peak > amps + _HAIR:
        yield Finding(
            "supply",
            "supply",
            f"in its worst second {peak:.3g} A are asked of it, with the {battery.steady_amps:g} A "
            f"that are always on, and it gives {amps:g} A. Set its amps to "
            f"{amps - (battery.steady_amps or 0.0):.3g} A, so that bells wait for each other, or "
            "take a larger one.",
        )
    fuse, fits = battery.fuse_amps, carrying(peak)
    if fuse is not None and peak > STEADY_SHARE * fuse:
        remedy = f"Fit {fits[0]:g} A" if fits else "Split the house in two"
        yield Finding(
            "battery",
            "fuse",
            f"in its worst second it gives {peak:.3g} A, more than three quarters of its fuse of "
            f"{fuse:g} A, which may open by itself. {remedy}.",
        )


def _lasts(building: Building, battery: Battery, asked: Demand) -> Iterator[Finding]:
    needed, lasts = needed_amp_hours(building, asked), aged_hours(building, asked)
    assert battery.amp_hours is not None, "else its hours are not known"
    if battery.amp_hours < needed:
        yield Finding(
            "battery",
            "battery",
            f"once aged, its {battery.amp_hours:g} Ah carry {mean_amps(building, asked):.3g} A "
            f"for {lasts:.3g} h, and {battery.hours:g} h are wanted. Take {needed:.3g} Ah or more.",
        )
