"""Limits of extra-low-voltage DC circuits, as published. The local code decides, not this."""

from __future__ import annotations

from typing import NamedTuple


class Limit(NamedTuple):
    """A limit that somebody published, for ripple-free DC."""

    volts: float
    says: str
    source: str


LIMITS = (
    Limit(
        30.0,
        "bare parts that can be touched are allowed outdoors and where it is damp up to",
        "BS 7671 414.4.5, as quoted by electricians",
    ),
    Limit(
        33.0,
        "a supply made for bells and chimes gives at most",
        "scope of IEC 61558-2-8:2010",
    ),
    Limit(
        60.0,
        "bare parts that can be touched are allowed where it is dry, and Class 2 circuits end, at",
        "BS 7671 414.4.5, as quoted by electricians; NEC Chapter 9, Table 11, at second hand",
    ),
    Limit(120.0, "safety extra-low voltage ends at", "IEC 61140, at second hand"),
)
CLASS_2_VOLT_AMPS = 100.0  # NEC 725, at second hand


def exceeded(volts: float) -> tuple[Limit, ...]:
    """The limits that a voltage is above, lowest first."""
    return tuple(limit for limit in LIMITS if volts > limit.volts)


def class_2_fuse_amps(volts: float) -> float:
    """The largest fuse of a Class 2 circuit that is not limited by its source itself, A.

    5 A up to 20 V, 100/V above, to 60 V (NEC Chapter 9, Table 11(B), from memory).
    """
    return 5.0 if volts <= 20 else CLASS_2_VOLT_AMPS / volts
