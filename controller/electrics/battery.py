"""How long a lead-acid battery carries a load, and how large it must be.

Peukert's law is written in two ways that are not interchangeable: with the capacity at one ampere,
and with the capacity rated over some hours. Here it is the second; the first is the same with
`rate_hours` equal to the ampere-hours, for one ampere then takes as many hours.
"""

from __future__ import annotations

from collections.abc import Iterable


def hours_lasting(amps: float, amp_hours: float, rate_hours: float, peukert: float) -> float:
    """How long `amp_hours`, rated over `rate_hours`, give a steady `amps`, h: H (C / (I·H))^k.

    Slower than rated it never counts as more than the rated capacity, where Peukert's law would
    promise more than there is (a choice). The law is good to some 10 %.
    """
    rated = amp_hours / rate_hours
    return rate_hours * float((rated / amps) ** (peukert if amps > rated else 1.0))


def amp_hours_needed(amps: float, hours: float, rate_hours: float, peukert: float) -> float:
    """The rated capacity that gives a steady `amps` for `hours`, Ah: the same turned round."""
    exponent = 1 / peukert if hours < rate_hours else 1.0
    return amps * rate_hours * float((hours / rate_hours) ** exponent)


def amp_hours_of(loads: Iterable[tuple[float, float]]) -> float:
    """What loads of (amps, hours) take in all, Ah: I₁t₁ + I₂t₂ + … (the method of NFPA 72)."""
    return sum(amps * hours for amps, hours in loads)


def with_ageing(amp_hours: float, ageing: float) -> float:
    """What to buy so that it still suffices when old, Ah.

    1.25 is IEEE 485's, for a battery that is worn at 80 % (from memory); NFPA 72 has had 1.20.
    """
    return amp_hours * ageing
