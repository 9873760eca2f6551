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
from typing import TYPE_CHECKING, Any
from weakref import ref

from controller.circuits.chip import find_chip, in_words, request_lines
from controller.circuits.lines import InputEdge, InputLine, named

if TYPE_CHECKING:
    import gpiod

    from controller.circuits.devices import GpiodPin

__all__ = ["GpiodFactory", "find_chip"]

_MOST_EVENTS_AT_ONCE = 64


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

    @property
    def _held(self) -> gpiod.LineRequest:
        assert self._request is not None, "the pins have been let go"
        return self._request

    def set_many(self, levels: Mapping[int, bool]) -> None:
        """Drive several outputs at one instant. `PinsFault` where the kernel refuses."""
        assert levels.keys() <= self.outputs.keys(), "only outputs are driven"
        if not levels:
            return
        from gpiod.line import Value

        values = {pin: Value.ACTIVE if high else Value.INACTIVE for pin, high in levels.items()}
        with in_words(self.chip):
            self._held.set_values(values)  # type: ignore[arg-type]  # dict is invariant in its key

    def level(self, pin: int) -> bool:
        """The level at the pin now: of an input, as debounced; of an output, as it really is."""
        return self._levels([pin])[pin]

    def _levels(self, pins: list[int]) -> dict[int, bool]:
        if not pins:
            return {}
        with in_words(self.chip):
            values = self._held.get_values(pins)
        return {pin: bool(value) for pin, value in zip(pins, values, strict=True)}

    def fileno(self) -> int:
        """For select: readable while an input has something to tell."""
        return self._held.fd

    def read_events(self) -> list[InputEdge]:
        """What the inputs did since last asked, in order; does not wait. Devices are told too.

        Where the kernel had to drop events, what the inputs came to in the end is told still.
        """
        edges: list[InputEdge] = []
        with in_words(self.chip):
            while self._held.wait_edge_events(0):
                events = self._held.read_edge_events(_MOST_EVENTS_AT_ONCE)
                for event in events:
                    dropped = event.global_seqno != self._event_number + 1
                    self._event_number = event.global_seqno
                    high = event.event_type is event.Type.RISING_EDGE
                    edges += self._tell(event.line_offset, high, event.timestamp_ns)
                    if dropped:
                        self._lost = True
                if len(events) < _MOST_EVENTS_AT_ONCE:
                    break
        return edges
