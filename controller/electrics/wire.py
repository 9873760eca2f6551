"""Resistance of copper conductors, by AWG and by mm² and class, at a temperature."""

from __future__ import annotations

from math import pi

from controller.building.conductors import Conductor, Make

RESISTIVITY = 1 / 58  # Ω·mm²/m, annealed copper at 20 °C: IEC 60028 (1925)
PER_KELVIN = 0.00393  # at 20 °C: IEC 60028. IEC 60228's listed factors use 0.004: up to 0.4 % more
COOL = 20.0  # °C, at which tables without a temperature of their own are given
WARM = 40.0  # °C, an attic in summer: a choice

# Ω/km at 20 °C, the most that plain annealed copper may have: IEC 60228, classes 1, 2 and 5, at
# second hand (reference sources: a cable maker's Tables A.1 and A.2, and two more that agree).
_MOST_OHMS = {
    0.5: (36.0, 36.0, 39.0),
    0.75: (24.5, 24.5, 26.0),
    1.0: (18.1, 18.1, 19.5),
    1.5: (12.1, 12.1, 13.3),
    2.5: (7.41, 7.41, 7.98),
    4.0: (4.61, 4.61, 4.95),
}
# The same for thin wire: DIN VDE 0295, at second hand, solid and stranded alike. The higher of two
# columns, which are plain and tinned.
_MOST_OHMS_THIN = {0.14: 138.0, 0.22: 99.0, 0.25: 79.0, 0.34: 56.0}
_CLASS: dict[Make, int] = {"solid": 0, "stranded": 1, "flexible": 2}
# Sizes in no table: so much above 1/58 over the area as IEC 60228's 2.5 mm² stands above it (7.4 %
# and 15.7 %), which is the most of those in the table. A choice.
_ABOVE: dict[Make, float] = {"solid": 1.08, "stranded": 1.08, "flexible": 1.16}
# Strands go round: the mean ratio of the 7-strand to the solid column of NEC (NFPA 70) Chapter 9,
# Table 8, 18 to 10 AWG.
_STRANDED_AWG = 1.0234

SIZES_MM2 = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0)  # to be had; common practice, no source
SIZES_AWG = (24, 22, 20, 18, 16, 14, 12, 10, 8)


def awg_mm2(number: float) -> float:
    """Area of an AWG size, mm²: No. 36 is 0.005 in thick, 39 steps make 92 times (ASTM B258)."""
    millimetres = 0.005 * 25.4 * 92 ** ((36 - number) / 39)
    return float(pi / 4 * millimetres**2)


def area_mm2(wire: Conductor) -> float:
    """Its area, mm²."""
    return awg_mm2(wire.size) if wire.unit == "AWG" else wire.size


def ohms_per_km(wire: Conductor, celsius: float) -> float:
    """What a kilometre of one conductor may have, Ω, at a temperature.

    mm² by IEC 60228's most; AWG by ASTM B258's area and 1/58 Ω·mm²/m. Both are of 20 °C, and
    rise by 0.00393 a kelvin. (NEC Table 8 is of 75 °C: it is some 22 % above these.)
    """
    return _ohms_per_km_cool(wire) * (1 + PER_KELVIN * (celsius - COOL))


def _ohms_per_km_cool(wire: Conductor) -> float:
    plain = RESISTIVITY * 1000 / area_mm2(wire)
    if wire.unit == "AWG":
        return plain if wire.make == "solid" else plain * _STRANDED_AWG
    if wire.size in _MOST_OHMS:
        return _MOST_OHMS[wire.size][_CLASS[wire.make]]
    if wire.size in _MOST_OHMS_THIN:
        return _MOST_OHMS_THIN[wire.size]
    return plain * _ABOVE[wire.make]


def ohms(wire: Conductor, metres: float, celsius: float) -> float:
    """Resistance of one conductor of that length, Ω."""
    return ohms_per_km(wire, celsius) * metres / 1000


def thicker(wire: Conductor) -> tuple[Conductor, ...]:
    """The sizes to be had above it, made and measured alike, thinnest first."""
    sizes = SIZES_AWG if wire.unit == "AWG" else SIZES_MM2
    alike = (wire._replace(size=float(size)) for size in sizes)
    return tuple(one for one in alike if area_mm2(one) > area_mm2(wire))
