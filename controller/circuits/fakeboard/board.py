"""The fake board's electrics: pins, coils, contacts, bells, dials and the supply, on real time.

Pins are gpiozero's mock pins. A holder's pins keep their last level when it goes, as the kernel of
the board's vendor does: whoever dies with a relay closed leaves it closed.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from heapq import heappop, heappush
from typing import TYPE_CHECKING, Any

from gpiozero.pins.mock import MockFactory

from controller.building.wiring import wiring_of
from controller.circuits.fakeboard.parts import (
    BOUNCES,
    DROP_OUT_NS,
    MILLISECOND,
    PULL_IN_NS,
    DialLine,
    Fault,
    Input,
    Relay,
    relays_of,
    senses_of,
)
from controller.circuits.fakeboard.record import ChangeLog
from controller.dials.modelled import Polarity, after_impulse, model_dials
from controller.dials.position import face_text

if TYPE_CHECKING:
    from controller.building.model import Building


class Board:
    """All that hangs on the pins. Call `advance` when `next_instant` has come."""

    def __init__(self, building: Building) -> None:
        wiring = wiring_of(building)
        self.name = building.name
        self.log = ChangeLog()
        self.supply = True
        self.relays = relays_of(wiring)
        self.senses = senses_of(self.relays)
        panel = [Input(entry.name, entry.pin, entry.active, entry) for entry in wiring.panel]
        self.inputs = {one.name: one for one in (*panel, *self.senses.values())}
        if wiring.supply_sense is not None:
            self.inputs["supply"] = Input("supply", wiring.supply_sense, "high", None, closed=True)
        self.lines = {
            name: DialLine(
                name,
                line,
                tuple(r for r in self.relays if r.circuit and r.circuit.name == f"lines.{name}"),
                model_dials(0, "" if line.drive == "single" else "-"),
            )
            for name, line in building.lines.items()
        }
        self._since: dict[str, int] = {}  # line → mono since when its current flows
        self._factory = MockFactory()
        self._timers: list[tuple[int, int, Relay, int, bool]] = []
        self._timer_number = 0
        for relay in self.relays:
            self._drive(relay.pin, relay.active == "low")
        for one in self.inputs.values():
            self._feel(one)

    # ── pins ─────────────────────────────────────────────────────────────────────────────────

    def _pin(self, number: int) -> Any:
        return self._factory.pin(number)

    def level(self, number: int) -> bool:
        """The level at a pin."""
        return bool(self._pin(number).state)

    def set_levels(self, levels: Mapping[int, bool], says: str = "") -> None:
        """Drive pins, all at one instant; coils follow at once, contacts a little later."""
        now = time.monotonic_ns()
        for number, high in levels.items():
            if self._drive(number, high):
                self.log.note(now, "pin", f"GPIO{number}", int(high), says)
                for relay in self.relays:
                    if relay.coil_pin == number:
                        self._coil(relay, high == (relay.active == "high"), now)

    def _drive(self, number: int, high: bool) -> bool:
        """Whether the level is another than before."""
        pin = self._pin(number)
        before = bool(pin.state)
        pin.function = "output"
        pin.state = high
        pin.clear_states()  # the mock pin keeps every change for ever; ours are in the log
        return before != high

    def _feel(self, one: Input) -> None:
        """Bring an input's level to what its contact is."""
        pin = self._pin(one.pin)
        if one.closed == (one.active == "high"):
            pin.drive_high()
        else:
            pin.drive_low()
        pin.clear_states()

    # ── coils and contacts ───────────────────────────────────────────────────────────────────

    def next_instant(self) -> int | None:
        """When a contact moves next (mono)."""
        return self._timers[0][0] if self._timers else None

    def advance(self, now: int) -> None:
        """Move the contacts whose instant has come."""
        while self._timers and self._timers[0][0] <= now:
            instant, _, relay, turn, closed = heappop(self._timers)
            if turn == relay.turn:
                self._contact(relay, closed, instant)

    def _coil(self, relay: Relay, energised: bool, now: int) -> None:
        relay.energised = energised
        self._tend(relay, now)

    def _tend(self, relay: Relay, now: int) -> None:
        """Let the contact follow its coil and its faults."""
        relay.turn += 1
        wanted = relay.wanted()
        if wanted == relay.contact:
            return
        delay = (PULL_IN_NS if wanted else DROP_OUT_NS) + relay.faults.get("slow", 0)
        self._later(now + delay, relay, wanted)
        if "bouncing" in relay.faults:
            for bounce in range(1, BOUNCES + 1):
                at = now + delay + 2 * bounce * MILLISECOND
                self._later(at - MILLISECOND, relay, not wanted)
                self._later(at, relay, wanted)

    def _later(self, instant: int, relay: Relay, closed: bool) -> None:
        self._timer_number += 1
        heappush(self._timers, (instant, self._timer_number, relay, relay.turn, closed))

    def _contact(self, relay: Relay, closed: bool, now: int) -> None:
        if closed == relay.contact:
            return
        relay.contact = closed
        self.log.note(now, "contact", relay.name, int(closed))
        sense = self.senses.get(relay.name)
        if sense is not None:
            self._input(sense, closed, now)
        self._currents(now)

    def _currents(self, now: int) -> None:
        """Dials take what flowed, where it has stopped flowing."""
        for name, dials in self.lines.items():
            flows = dials.flowing(self.supply)
            if flows == dials.current:
                continue
            if dials.current is not None:
                self._impulse(dials, dials.current, now - self._since.pop(name), now)
            dials.current = flows
            if flows is not None:
                self._since[name] = now

    def _impulse(self, dials: DialLine, polarity: Polarity, lasted: int, now: int) -> None:
        before = dials.dials
        line = dials.line
        dials.dials = after_impulse(before, polarity, lasted, line.impulse_ns, line.positions)
        for number, (old, new) in enumerate(zip(before, dials.dials, strict=True), 1):
            if old.shows != new.shows:
                says = face_text(line, new.shows)
                self.log.note(now, "dial", f"{dials.name} {number}", new.shows, says)

    # ── what a person does to it ─────────────────────────────────────────────────────────────

    def press(self, name: str, closed: bool) -> None:
        """Close or open the contact of a button or switch. `KeyError` where there is none."""
        self._input(self.inputs[name], closed, time.monotonic_ns())

    def _input(self, one: Input, closed: bool, now: int) -> None:
        if one.closed == closed:
            return
        one.closed = closed
        self._feel(one)
        self.log.note(now, "input", one.name, int(closed))

    def set_supply(self, there: bool) -> None:
        """The 24 V come or go."""
        now = time.monotonic_ns()
        self.supply = there
        self.log.note(now, "supply", "supply", int(there))
        if "supply" in self.inputs:
            self._input(self.inputs["supply"], there, now)
        self._currents(now)

    def set_fault(self, name: str, fault: Fault, length_ns: int) -> None:
        """Give a relay a fault. `KeyError` where there is no such relay."""
        relay = self._relay(name)
        relay.faults[fault] = length_ns
        self.log.note(time.monotonic_ns(), "fault", name, 1, fault)
        self._tend(relay, time.monotonic_ns())

    def clear_faults(self, name: str) -> None:
        """Mend a relay."""
        relay = self._relay(name)
        relay.faults.clear()
        self.log.note(time.monotonic_ns(), "fault", name, 0, "mended")
        self._tend(relay, time.monotonic_ns())

    def swap(self, line: str) -> None:
        """Exchange the wires of a line's + and −. `KeyError` where there is no such pair."""
        plus, minus = self._pair(line)
        plus.coil_pin, minus.coil_pin = minus.coil_pin, plus.coil_pin
        self.log.note(time.monotonic_ns(), "fault", f"lines.{line}", 1, "wires exchanged")

    def set_dials(self, line: str, shown: int, took: Polarity) -> None:
        """Put a line's dials to a position, as a person with a ladder would."""
        dials = self.lines[line]
        dials.dials = model_dials(shown % dials.line.positions, took if dials.relays[1:] else "")
        text = face_text(dials.line, shown)
        self.log.note(time.monotonic_ns(), "dial", f"{line} all", shown, f"put to {text}")

    def _relay(self, name: str) -> Relay:
        for relay in self.relays:
            if relay.name == name:
                return relay
        raise KeyError(name)

    def _pair(self, line: str) -> tuple[Relay, Relay]:
        relays = self.lines[line].relays
        if len(relays) != 2:
            raise KeyError(line)
        return relays[0], relays[1]

    def state(self) -> dict[str, Any]:
        """Everything, as it is now; plain enough for JSON."""
        return {
            "building": self.name,
            "supply": self.supply,
            "relays": [
                {
                    "name": relay.name,
                    "pin": relay.pin,
                    "level": int(self.level(relay.pin)),
                    "active": relay.active,
                    "closed": relay.contact,
                    "sounding": self._sounding(relay),
                    "faults": sorted(relay.faults),
                }
                for relay in self.relays
            ],
            "lines": {
                name: {
                    "current": dials.current,
                    "shows": [dial.shows for dial in dials.dials],
                    "texts": [face_text(dials.line, dial.shows) for dial in dials.dials],
                    "took": [dial.took for dial in dials.dials],
                }
                for name, dials in self.lines.items()
            },
            "inputs": [
                {"name": one.name, "pin": one.pin, "closed": one.closed}
                for one in self.inputs.values()
            ],
            "last_change": self.log.last,
        }

    def _sounding(self, relay: Relay) -> bool:
        is_zone = relay.circuit is not None and relay.circuit.kind == "zone"
        return is_zone and relay.contact and self.supply


def levels_of(plain: Mapping[str, Any]) -> dict[int, bool]:
    """Pins and levels from JSON. `ValueError` where a pin is no number."""
    return {int(pin): bool(level) for pin, level in plain.items()}
