"""What bells, dials and the controller ask of the supply and its battery.

All raise `NotKnown` where no week was played, or where the file does not say enough.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.building.installed import Battery
from controller.building.model import Building
from controller.electrics.battery import amp_hours_needed, hours_lasting, with_ageing
from controller.electrics.figures import NotKnown
from controller.electrics.load import Played, Second, amp_hours_a_day, drawn_by, worst_second

_HOURS_A_DAY = 24


class Demand(NamedTuple):
    """What bells and dials ask for."""

    worst: Second
    amp_hours_a_day: float


def demand(building: Building, played: Played | None) -> Demand:
    """What bells and dials ask for in what was played."""
    if played is None:
        raise NotKnown("a week of the timetable, played")
    drawn = drawn_by(building, played.closings)
    worst = worst_second(drawn)
    if worst is None:
        raise NotKnown("a week in which something rings or steps")
    return Demand(worst, amp_hours_a_day(drawn, played.start_utc, played.until_utc))


def _battery(building: Building) -> Battery:
    if building.battery is None:
        raise NotKnown("the battery, if there is one")
    return building.battery


def steady_amps(building: Building) -> float:
    """What is on all the time beside bells and dials, A."""
    steady = _battery(building).steady_amps
    if steady is None:
        raise NotKnown("current of controller, relay board and lamps")
    return steady


def peak_amps(building: Building, asked: Demand) -> float:
    """The most that is given at once, A."""
    return asked.worst.amps + steady_amps(building)


def mean_amps(building: Building, asked: Demand) -> float:
    """What is given over a mean day, A."""
    return asked.amp_hours_a_day / _HOURS_A_DAY + steady_amps(building)


def needed_amp_hours(building: Building, asked: Demand) -> float:
    """The battery to buy for the hours that are wanted of it, Ah, with ageing."""
    battery, amps = _battery(building), mean_amps(building, asked)
    if battery.hours is None:
        raise NotKnown("how long the battery is to last")
    new = amp_hours_needed(amps, battery.hours, battery.rate_hours, battery.peukert)
    return with_ageing(new, battery.ageing)


def aged_hours(building: Building, asked: Demand) -> float:
    """How long the battery that there is lasts once it has aged, h."""
    battery, amps = _battery(building), mean_amps(building, asked)
    if battery.amp_hours is None:
        raise NotKnown("ampere-hours of the battery")
    worn = battery.amp_hours / battery.ageing
    return hours_lasting(amps, worn, battery.rate_hours, battery.peukert)
