"""A conductor as an installer names it: its size in mm² or by AWG, and how it is made."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple, cast

Unit = Literal["mm2", "AWG"]
Make = Literal["solid", "stranded", "flexible"]

LIMITS: dict[Unit, tuple[float, float]] = {"mm2": (0.05, 50), "AWG": (4, 36)}
_WRITTEN = re.compile(
    r"([0-9]{1,2}(?:\.[0-9]{1,3})?) ?(mm2|mm²|AWG)(?: (solid|stranded|flexible))?"
)


class Conductor(NamedTuple):
    """One copper conductor. Solid, stranded and flexible are IEC 60228's classes 1, 2 and 5."""

    size: float  # mm², or the AWG number
    unit: Unit
    make: Make

    def __str__(self) -> str:
        """As a person would say it: "1.5 mm²", "18 AWG stranded"."""
        size = f"{self.size:g} {'mm²' if self.unit == 'mm2' else 'AWG'}"
        return size if self.make == "solid" else f"{size} {self.make}"


def conductor(text: str) -> Conductor:
    """The conductor of "1.5 mm2", "0.75 mm2 flexible", "18 AWG stranded"; solid unless said.

    `ValueError` where it is none, or of a size that no bell or dial hangs on.
    """
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise ValueError("not a conductor")
    size, unit = float(match[1]), cast(Unit, match[2].replace("²", "2"))
    low, high = LIMITS[unit]
    if not low <= size <= high or (unit == "AWG" and size != int(size)):
        raise ValueError("not a size of conductor")
    return Conductor(size, unit, cast(Make, match[3] or "solid"))
