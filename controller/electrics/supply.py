"""Between which voltages the supply lives, and the least that a device needs of it."""

from __future__ import annotations

from typing import NamedTuple

from controller.building.installed import Battery, Supply

LEAST_SHARE = 18 / 24  # "devices should run at 18 V and above" on 24 V: common practice, no source


class Window(NamedTuple):
    """What the supply gives, V."""

    discharged: float  # at the end of the battery's discharge: the least
    floating: float  # every day
    boosted: float  # the most


def window(supply: Supply, battery: Battery | None) -> Window:
    """The supply's voltages: its battery's cells times a cell's; without one, all are nominal.

    A cell has 1.75 V at the end of a discharge (the capacity rating in an introduction to IEEE
    485), 2.27 V on float when sealed (a battery chart), 2.45 V at most on boost (a question-and-
    answer page), unless the file says otherwise. Twelve: 21.0, 27.2 and 29.4 V.
    """
    if battery is None:
        return Window(supply.volts, supply.volts, supply.volts)
    return Window(
        battery.cells * battery.end_cell_volts,
        battery.cells * battery.float_cell_volts,
        battery.cells * max(battery.float_cell_volts, battery.boost_cell_volts),
    )


def needed_volts(least_volts: float | None, made_for_volts: float) -> float:
    """What a device needs to act: as the file says, else three quarters of what it is made for."""
    return LEAST_SHARE * made_for_volts if least_volts is None else least_volts
