"""What every pin factory of ours has: lines held for good, and gpiozero's devices on them.

It serves without gpiozero too, by `set_many`, `level` and `read_events`: gpiozero takes 0.1 s to
import and more memory than the rest of the hand, so it is imported with the first device. (Hence no
subclass of gpiozero's `Factory`: gpiozero asks a factory for its methods, never for its class.)
"""

from __future__ import annotations

import time
from abc import ABC, abstractmethod
from collections import defaultdict
from collections.abc import Mapping
from threading import Lock
from typing import TYPE_CHECKING, Any, NoReturn, Self
from weakref import ref

from controller.circuits.lines import InputEdge, InputLine, named

if TYPE_CHECKING:
    from controller.circuits.gpiozero_pin import HeldPin


class HeldLines(ABC):
    """All lines that this process holds; levels are those at the pin, True is high.

    For one thread. Give it to gpiozero's devices as `pin_factory`.
    """

    def __init__(self, outputs: Mapping[int, bool], inputs: Mapping[int, InputLine]) -> None:
        self.outputs = dict(outputs)
        self.inputs = dict(inputs)
        self._told: dict[int, bool] = {}  # input → the level last reported
        self._pins: dict[int, HeldPin] = {}
        # gpiozero's clean-up at exit looks for these two by name in a default factory.
        self._reservations: defaultdict[int, list[ref[Any]]] = defaultdict(list)
        self._res_lock = Lock()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @abstractmethod
    def set_many(self, levels: Mapping[int, bool]) -> None:
        """Drive several outputs at one instant. `PinsFault` where it is refused."""

    @abstractmethod
    def level(self, pin: int) -> bool:
        """The level at the pin now: of an input, as debounced; of an output, as it really is."""

    @abstractmethod
    def fileno(self) -> int:
        """For select: readable while an input has something to tell."""

    @abstractmethod
    def read_events(self) -> list[InputEdge]:
        """What the inputs did since last asked, in order; does not wait. Devices are told too."""

    @abstractmethod
    def close(self) -> None:
        """All outputs inactive, then let go; again is no harm. `PinsFault` where it was refused."""

    @property
    @abstractmethod
    def closed(self) -> bool:
        """Whether the lines have been let go."""

    def known(self) -> dict[int, bool]:
        """The inputs' levels as far as they were told: at the claim, then by `read_events`.

        Unlike `level` it runs no risk of an edge between two readings: what is not known yet is
        still to come.
        """
        return dict(self._told)

    def _tell(self, edge: InputEdge) -> bool:
        """Tell the device there, unless it is known already; whether it was news."""
        if self._told[edge.pin] == edge.high:
            return False
        self._told[edge.pin] = edge.high
        if device_pin := self._pins.get(edge.pin):
            device_pin.tell(edge)
        return True

    def _tell_no_more(self) -> None:
        """Devices hear nothing from now on."""
        for pin in self._pins.values():
            pin.when_changed = None

    # ── what gpiozero's devices ask of a pin factory ─────────────────────────────────────────────

    def pin(self, name: int | str) -> HeldPin:
        """The held line as gpiozero's devices see it. `gpiozero.PinInvalidPin`: not held here."""
        number = self._number(name)
        if number not in self._pins:
            from controller.circuits.gpiozero_pin import HeldPin

            self._pins[number] = HeldPin(self, number)
        return self._pins[number]

    def reserve_pins(self, requester: Any, *names: int | str) -> None:
        """One device a pin. `gpiozero.GPIOPinInUse` where another has it."""
        from gpiozero import GPIOPinInUse

        with self._res_lock:
            for number in map(self._number, names):
                for holder in [held() for held in self._reservations[number]]:
                    if holder is not None and requester._conflicts_with(holder):
                        raise GPIOPinInUse(f"{named([number])} is already in use by {holder!r}")
                self._reservations[number].append(ref(requester))

    def release_pins(self, reserver: Any, *names: int | str) -> None:
        """Let other devices have them."""
        with self._res_lock:
            for number in map(self._number, names):
                self._reservations[number] = [
                    held for held in self._reservations[number] if held() not in (reserver, None)
                ]

    def release_all(self, reserver: Any) -> None:
        """Let other devices have all that this one reserved."""
        self.release_pins(reserver, *list(self._reservations))

    def ticks(self) -> float:
        """Seconds of the monotonic clock, which stamps the edges too."""
        return time.monotonic()

    def ticks_diff(self, later: float, earlier: float) -> float:
        """Seconds between two ticks."""
        return later - earlier

    def spi(self, **_: Any) -> NoReturn:
        """Relays and contacts only."""
        from gpiozero import PinSPIUnsupported

        raise PinSPIUnsupported("these pins drive relays and read contacts only")

    @property
    def board_info(self) -> NoReturn:
        """The chip is known by its label; which board carries it is not asked."""
        from gpiozero import PinUnknownPi

        raise PinUnknownPi("the chip is known by its label; which board carries it is not asked")

    pi_info = board_info

    def _number(self, name: int | str) -> int:
        digits = str(name).upper().removeprefix("GPIO").removeprefix("BCM")
        if digits.isdecimal() and (number := int(digits)) in self.outputs.keys() | self.inputs:
            return number
        from gpiozero import PinInvalidPin

        raise PinInvalidPin(f"{name} is not among the pins held here; expected a BCM GPIO number")
