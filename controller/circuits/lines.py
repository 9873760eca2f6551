"""The words in which pins are claimed and heard, whether a chip holds them or the fake board.

A line (here: of a GPIO chip, not of dials) is named by its BCM number. Levels are those at the pin:
True is high. Nothing here imports gpiozero or gpiod, so that `release` starts quickly.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from controller.building.wiring import Level


class PinsFault(Exception):
    """The pins cannot be had or worked. Says which, why and what to do."""


class InputLine(NamedTuple):
    """How an input is claimed: it is pulled to its inactive level, so a broken wire is inactive."""

    active: Level
    debounce_ns: int

    @property
    def pulled_up(self) -> bool:
        """Whether the resistor pulls up (else down)."""
        return self.active == "low"


class InputEdge(NamedTuple):
    """An input has another level, debounced."""

    pin: int
    high: bool
    mono: int  # when the level changed


Outputs = Mapping[int, bool]  # BCM number → its inactive level
Inputs = Mapping[int, InputLine]


def named(pins: list[int]) -> str:
    """Pins as people write them: "GPIO17", "GPIO17 and GPIO22"."""
    names = [f"GPIO{pin}" for pin in pins]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
