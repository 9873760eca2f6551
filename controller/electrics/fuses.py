"""Fuses: the wire protected, the load carried, a short at the far end seen."""

from __future__ import annotations

from controller.building.conductors import Conductor
from controller.electrics.figures import NotKnown
from controller.electrics.wire import area_mm2, awg_mm2

# Up to 10 A miniature fuses: the R10 series of IEC 60127, from memory. Above: NEC 240.6, at second
# hand.
RATINGS = (
    0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0,
    5.0, 6.3, 8.0, 10.0,
    15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 125.0,
)  # fmt: skip
STEADY_SHARE = 0.75  # of its rating at 25 °C: practice for UL 248-14 fuses, from memory
OPENS_AT = 2.0  # times its rating, within 5 s, for 10 A at most: a fuse derating guide

# The most that may protect a copper conductor, A. From 18 AWG: NEC 240.4(D), and 725.43 (2008) for
# 18 and 16, at second hand. Below: BS 7671 Table 4F3A, flexible cords, from memory.
_MOST_BY_AWG = {10: 30.0, 12: 20.0, 14: 15.0, 16: 10.0, 18: 7.0}
_MOST_BY_MM2 = {0.75: 6.0, 0.5: 3.0}
_ROUNDED = 0.999  # 0.823 mm² is written for 18 AWG and is a hair less


def most_fuse_amps(wire: Conductor) -> float:
    """The largest fuse that protects a conductor, A: that of the next listed size down.

    `NotKnown` for wire thinner than 0.5 mm², for which no limit was read.
    """
    area = area_mm2(wire)
    for number, amps in _MOST_BY_AWG.items():
        if area >= awg_mm2(number) * _ROUNDED:
            return amps
    for size, amps in _MOST_BY_MM2.items():
        if area >= size:
            return amps
    raise NotKnown(f"what {wire} bears, from its maker")


def carrying(load_amps: float) -> tuple[float, ...]:
    """The ratings that a steady load takes no more than three quarters of, A, least first."""
    return tuple(rating for rating in RATINGS if load_amps <= STEADY_SHARE * rating)


def opens(fuse_amps: float, short_amps: float) -> bool:
    """Whether what a short draws opens the fuse within 5 s."""
    return short_amps >= OPENS_AT * fuse_amps
