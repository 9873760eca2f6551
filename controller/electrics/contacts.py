"""What a relay's contact makes, carries and breaks."""

from __future__ import annotations


def make_amps(load_amps: float, volts: float, snubber_ohms: float | None) -> float:
    """What the contact closes on, A.

    A coil's current rises from nothing (L di/dt), so that of a bell or dial is at most its steady
    current. A capacitor over the contact discharges through its resistor as it closes, V/R.
    """
    return load_amps + (0.0 if snubber_ohms is None else volts / snubber_ohms)


def coil_amps(amps: float, made_for_volts: float, volts: float) -> float:
    """What a coil draws at another voltage than that at which it draws `amps`, A: Ohm's law."""
    return amps * volts / made_for_volts
