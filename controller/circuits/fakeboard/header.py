"""The pins of the fake board: gpiozero's mock pins."""

from __future__ import annotations

from typing import Any

from gpiozero.pins.mock import MockFactory, MockPin

PINS = range(28)  # BCM numbers that the header carries
_REVISION = "a02082"  # any board with a header of 40 pins: the numbers are the same on all


class Header:
    """Levels at pins. Outputs keep theirs, whoever set it."""

    def __init__(self) -> None:
        self._factory = MockFactory(_REVISION, MockPin)

    def level(self, number: int) -> bool:
        """True is high."""
        return bool(self._pin(number).state)

    def drive(self, number: int, high: bool) -> bool:
        """Make the pin an output at this level, with none between; whether the level changed."""
        pin = self._pin(number)
        before = bool(pin.state)
        pin.function = "output"  # a mock pin keeps its level then
        pin.state = high
        pin.clear_states()  # it keeps every change for ever; ours are in the log
        return before != high

    def read(self, number: int, pulled_up: bool) -> None:
        """Make the pin an input; where nothing is wired to it, it goes where it is pulled."""
        pin = self._pin(number)
        pin.function = "input"
        if not pin.info.pull:  # two pins have a resistor of their own, for good
            pin.pull = "up" if pulled_up else "down"
        pin.clear_states()

    def feed(self, number: int, high: bool) -> None:
        """Put a level on a pin from outside; one that is driven as an output keeps its own."""
        pin = self._pin(number)
        if pin.function == "output":
            return
        if high:
            pin.drive_high()
        else:
            pin.drive_low()
        pin.clear_states()

    def _pin(self, number: int) -> Any:
        assert number in PINS, "a pin of the header"
        return self._factory.pin(number)
