"""A held line as gpiozero's devices see it. Imported with the first device, as gpiozero is slow."""

from __future__ import annotations

from collections.abc import Callable
from types import MethodType
from typing import TYPE_CHECKING, Any
from weakref import WeakMethod, ref

from gpiozero import (
    PinEdgeDetectUnsupported,
    PinFixedPull,
    PinInvalidBounce,
    PinInvalidFunction,
    PinInvalidState,
    PinSetInput,
)
from gpiozero.pins import Pin, PinInfo

from controller.circuits.lines import InputEdge, named

if TYPE_CHECKING:
    from controller.circuits.held import HeldLines

WhenChanged = Callable[[float, bool], None]


class HeldPin(Pin):  # type: ignore[misc]  # gpiozero has no types
    """One line, claimed by its factory for good: what it is cannot be changed, only its level can.

    So a device that says what is so already succeeds, and one that wants another function, pull or
    debounce is refused rather than obeyed: to claim a line anew would move its relay.
    """

    def __init__(self, factory: HeldLines, number: int) -> None:
        self._factory = factory
        self._number = number
        self._input = factory.inputs.get(number)
        self._listener: Callable[[], WhenChanged | None] | None = None  # weak, as devices are

    def __repr__(self) -> str:
        return named([self._number])

    def close(self) -> None:
        """Its device is closed: nobody listens any more, and a relay opens."""
        self.when_changed = None
        if self._input is None and not self._factory.closed:
            self._factory.set_many({self._number: self._factory.outputs[self._number]})

    def tell(self, edge: InputEdge) -> None:
        """The input has another level."""
        listener = self._get_when_changed()
        if listener is not None:
            listener(edge.mono / 1e9, edge.high)

    def output_with_state(self, state: Any) -> None:
        """Straight to the level, with none between."""
        self.function = "output"
        self.state = state

    def _get_info(self) -> PinInfo:
        name = named([self._number])
        names = frozenset({self._number, str(self._number), name, f"BCM{self._number}"})
        return PinInfo(self._number, name, names, "", 1, 1, frozenset({"gpio"}))

    def _get_function(self) -> str:
        return "output" if self._input is None else "input"

    def _set_function(self, value: str) -> None:
        if value != self._get_function():
            raise PinInvalidFunction(f"{self!r} is held as {self._get_function()}, not as {value}")

    def _get_state(self) -> bool:
        return self._factory.level(self._number)

    def _set_state(self, value: Any) -> None:
        if self._input is not None:
            raise PinSetInput(f"cannot set the level of {self!r}: it is held as input")
        if value not in (0, 1):
            raise PinInvalidState(f"{value!r} is no level for {self!r}: a relay is on or off")
        self._factory.set_many({self._number: bool(value)})

    def _get_pull(self) -> str:
        if self._input is None:
            return "floating"
        return "up" if self._input.pulled_up else "down"

    def _set_pull(self, value: str) -> None:
        if value != self._get_pull():
            raise PinFixedPull(f"{self!r} is held with pull {self._get_pull()}, not {value}")

    def _get_bounce(self) -> float | None:
        if self._input is None or not self._input.debounce_ns:
            return None
        return self._input.debounce_ns / 1e9

    def _set_bounce(self, value: float | None) -> None:
        if value is not None and value != self._get_bounce():
            raise PinInvalidBounce(f"{self!r} is debounced by the kernel, {self._get_bounce()} s")

    def _get_edges(self) -> str:
        return "none" if self._input is None else "both"

    def _set_edges(self, value: str) -> None:
        if value != self._get_edges():
            raise PinEdgeDetectUnsupported(f"{self!r} tells of {self._get_edges()} edges")

    def _get_when_changed(self) -> WhenChanged | None:
        return None if self._listener is None else self._listener()

    def _set_when_changed(self, value: WhenChanged | None) -> None:
        if value is None:
            self._listener = None
        elif self._input is None:
            raise PinEdgeDetectUnsupported(f"{self!r} is held as output: it tells of no edges")
        elif isinstance(value, MethodType):
            self._listener = WeakMethod(value)
        else:
            self._listener = ref(value)
