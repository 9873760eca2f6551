"""Volts lost along a run, for devices bunched at its end or spread along it, and in a return.

Each device is taken to draw the same current whatever it is left with. A coil draws less at less
than its voltage, so what is lost is never more than this says.
"""

from __future__ import annotations

from collections.abc import Sequence


def lost_bunched(amps: float, ohms: float) -> float:
    """Volts lost where all the current goes the whole way: Ohm's law.

    Two conductors of length L lose VD = 2 · L · R/1000 · I (a training page that uses NEC Chapter
    9, Table 8): `ohms` is both of theirs.
    """
    return amps * ohms


def spread_share(devices: int) -> float:
    """What the last of `devices` loses when they hang at equal distances, over what it would lose
    were all at the end: (n + 1) / 2n.

    The part before the k-th carries the current of n − k + 1; their sum is n(n + 1)/2 of one's.
    """
    return (devices + 1) / (2 * devices)


def lost_spread(amps: float, ohms: float, devices: int) -> float:
    """Volts lost at the last of devices spread evenly along conductors of `ohms` in all."""
    return lost_bunched(amps, ohms) * spread_share(devices)


def amps_in_return(amps: Sequence[float], supply_amps: float | None) -> float:
    """The most that goes through a conductor that several circuits share, A.

    It is the sum of their currents (Kirchhoff's first law), and no more than the supply gives.
    """
    return sum(amps) if supply_amps is None else min(sum(amps), supply_amps)
