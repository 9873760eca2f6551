"""The pins of this machine: a gpiozero pin factory of ours on `gpiod`, libgpiod 2.

gpiozero's own factories claim a line as input, then as output at low, then set its level, so that
a relay that low energises blips at every start. This one holds all its lines by one request, at
their inactive levels, before any device exists; a device attaches to a line and changes nothing.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from controller.circuits.chip import MOST_EVENTS, find_chip, in_words, request_lines
from controller.circuits.held import HeldLines
from controller.circuits.lines import InputEdge, InputLine

if TYPE_CHECKING:
    import gpiod

__all__ = ["GpiodFactory", "find_chip"]

_EVENTS_AT_ONCE = 64


class GpiodFactory(HeldLines):
    """All lines of one chip that this process holds."""

    def __init__(
        self, chip: Path, outputs: Mapping[int, bool], inputs: Mapping[int, InputLine]
    ) -> None:
        """Hold them: outputs (pin → inactive level) at those levels, all in one call.

        Raise `PinsBusy` where somebody else holds one, `PinsFault` where they cannot be had for
        another reason. Nothing is held then.
        """
        super().__init__(outputs, inputs)
        self.chip = chip
        self._request: gpiod.LineRequest | None = request_lines(chip, self.outputs, self.inputs)
        self._event_number = 0  # the kernel's, of the last event read
        try:
            self._told = self._levels(list(self.inputs))
        except BaseException:
            self.close()
            raise

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
        self._tell_no_more()
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
