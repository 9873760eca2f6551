"""Dials wired in series: one current through all of them, set by a resistor."""

from __future__ import annotations


def loop_amps(volts: float, ohms: float) -> float:
    """Current of a loop of `ohms` in all, A: Ohm's law."""
    return volts / ohms


def dropping_ohms(volts: float, amps: float, loop_ohms: float) -> float:
    """The resistor that sets a loop of `loop_ohms` (coils and wire) to `amps`, Ω: V/I − R.

    Negative where `volts` are too few to drive that current.
    """
    return volts / amps - loop_ohms


def watts(amps: float, ohms: float) -> float:
    """What turns to heat in a resistance, W: I²R (Joule)."""
    return amps**2 * ohms
