"""The pins of this machine: a gpiozero pin factory of ours on `gpiod`, libgpiod 2.

gpiozero's own factories claim a line as input, then as output at low, then set its level, so that
a relay that low energises blips at every start. This one holds all its lines by one request, at
their inactive levels, before any device exists; a device attaches to a line and changes nothing.

It serves without gpiozero too, by `set_many`, `level` and `read_events`: gpiozero takes 0.1 s to
import and more memory than the rest of the hand, so it is imported with the first device. (Hence no
subclass of gpiozero's `Factory`: gpiozero asks a factory for its methods, never for its class.)
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, NoReturn
from weakref import ref

from controller.circuits.chip import MOST_EVENTS, find_chip, in_words, request_lines
from controller.circuits.lines import InputEdge, InputLine, named

if TYPE_CHECKING:
    import gpiod

    from controller.circuits.gpiozero_pin import GpiodPin

__all__ = ["GpiodFactory", "find_chip"]

_EVENTS_AT_ONCE = 64


class GpiodFactory:
    """All lines of one chip that this process holds; levels are those at the pin, True is high.

    For one thread. Give it to gpiozero's devices as `pin_factory`.
    """

    def __init__(
        self, chip: Path, outputs: Mapping[int, bool], inputs: Mapping[int, InputLine]
    ) -> None:
        """Hold them: outputs (pin → inactive level) at those levels, all in one call.

        Raise `PinsBusy` where somebody else holds one, `PinsFault` where they cannot be had for
        another reason. Nothing is held then.
        """
        self.chip = chip
        self.outputs = dict(outputs)
        self.inputs = dict(inputs)
        self._request: gpiod.LineRequest | None = request_lines(chip, self.outputs, self.inputs)
        self._pins: dict[int, GpiodPin] = {}
        self._event_number = 0  # the kernel's, of the last event read
        # gpiozero's clean-up at exit looks for these two by name in a default factory.
        self._reservations: defaultdict[int, list[ref[Any]]] = defaultdict(list)
        self._res_lock = Lock()
        try:
            self._told = self._levels(list(self.inputs))  # input → the level last reported
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> GpiodFactory:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def set_many(self, levels: Mapping[int, bool]) -> None:
        """Drive several outputs at one instant. `PinsFault` where the kernel refuses."""
        assert levels.keys() <= self.outputs.keys(), "only outputs are driven"
        if levels:
            self._drive(self._held, levels)

    def level(self, pin: int) -> bool:
        """The level at the pin now: of an input, as debounced; of an output, as it really is."""
        return self._levels([pin])[pin]

    def fileno(self) -> int:
        """For select: readable while an input has something to tell."""
        return self._held.fd

    def read_events(self) -> list[InputEdge]:
        """What the inputs did since last asked, in order; does not wait. Devices are told too.

        Where the kernel had to drop events, what the inputs came to in the end is told still.
        """
        edges: list[InputEdge] = []
        dropped = False
        with in_words(self.chip):
            for _ in range(MOST_EVENTS // _EVENTS_AT_ONCE):
                if not self._held.wait_edge_events(0):
                    break
                for event in self._held.read_edge_events(_EVENTS_AT_ONCE):
                    dropped |= event.global_seqno != self._event_number + 1
                    self._event_number = event.global_seqno
                    high = event.event_type is event.Type.RISING_EDGE
                    edges.append(InputEdge(event.line_offset, high, event.timestamp_ns))
        if dropped:
            now = time.monotonic_ns()
            edges += [
                InputEdge(pin, high, now) for pin, high in self._levels([*self.inputs]).items()
            ]
        return [edge for edge in edges if self._tell(edge)]

    def close(self) -> None:
        """All outputs inactive, then let go; again is no harm. `PinsFault` where it was refused."""
        if self._request is None:
            return
        for pin in self._pins.values():
            pin.when_changed = None
        request, self._request = self._request, None
        try:
            if self.outputs:
                self._drive(request, self.outputs)
        finally:
            request.release()

    @property
    def closed(self) -> bool:
        """Whether the lines have been let go."""
        return self._request is None

    @property
    def _held(self) -> gpiod.LineRequest:
        assert self._request is not None, "the pins have been let go"
        return self._request

    def _drive(self, request: gpiod.LineRequest, levels: Mapping[int, bool]) -> None:
        from gpiod.line import Value

        values: dict[int | str, Value] = {
            pin: Value.ACTIVE if high else Value.INACTIVE for pin, high in levels.items()
        }
        with in_words(self.chip):
            request.set_values(values)

    def _levels(self, pins: list[int]) -> dict[int, bool]:
        if not pins:
            return {}
        with in_words(self.chip):
            values = self._held.get_values(pins)
        return {pin: bool(value) for pin, value in zip(pins, values, strict=True)}

    def _tell(self, edge: InputEdge) -> bool:
        """Tell the device there, unless it is known already; whether it was news."""
        if self._told[edge.pin] == edge.high:
            return False
        self._told[edge.pin] = edge.high
        if device_pin := self._pins.get(edge.pin):
            device_pin.tell(edge)
        return True

    # ── what gpiozero's devices ask of a pin factory ─────────────────────────────────────────────

    def pin(self, name: int | str) -> GpiodPin:
        """The held line as gpiozero's devices see it. `gpiozero.PinInvalidPin`: not held here."""
        number = self._number(name)
        if number not in self._pins:
            from controller.circuits.gpiozero_pin import GpiodPin

            self._pins[number] = GpiodPin(self, number)
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
