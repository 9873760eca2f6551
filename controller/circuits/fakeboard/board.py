"""The fake board's electrics: pins, coils, contacts, bells, dials and the supply, on real time.

A holder's pins keep their last level when it goes, as the kernel of the board's vendor does:
whoever dies with a relay closed leaves it closed. A pin that nobody ever held is at its relay's
inactive level, as the wiring guide's resistors see to.

What follows from something else has the instant at which it follows, though it may be worked out a
moment later: a contact that a coil moves after 6 ms moved then.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from heapq import heappop, heappush
from typing import TYPE_CHECKING, Any

from controller.building.wiring import wiring_of
from controller.circuits.fakeboard.header import Header
from controller.circuits.fakeboard.parts import (
    BOUNCE_NS,
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
from controller.circuits.lines import InputEdge, InputLine
from controller.dials.modelled import Polarity, heeds, model_dials, moved, needed_ns
from controller.dials.position import face_text

if TYPE_CHECKING:
    from controller.building.model import Building


class BoardRefuses(Exception):
    """What was asked cannot be done to this board, in words."""


class Board:
    """All that hangs on the pins. Call `advance` when `next_instant` has come."""

    def __init__(self, building: Building, clock: Callable[[], int] = time.monotonic_ns) -> None:
        """`clock` gives the instant (mono) at which something is done to the board."""
        wiring = wiring_of(building)
        self._clock = clock
        self.name = building.name
        self.wiring = wiring.to_json()
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
        self.edges: list[InputEdge] = []  # of inputs that are listened to; taken by the server
        self._heard: dict[int, bool] = {}  # input listened to → its debounced level
        self._debounce: dict[int, int] = {}
        self._stirred: dict[int, int] = {}  # counts what an input did: before that, it had settled
        self._header = Header()
        self._timers: list[tuple[int, int, Callable[[int], None]]] = []
        self._timer_number = 0
        for relay in self.relays:
            self._header.drive(relay.pin, relay.active == "low")
        for one in self.inputs.values():
            self._header.feed(one.pin, one.high)

    # ── time ─────────────────────────────────────────────────────────────────────────────────────

    def next_instant(self) -> int | None:
        """When something moves next by itself (mono)."""
        return self._timers[0][0] if self._timers else None

    def advance(self, now: int) -> None:
        """Let happen what was due by `now`, in its order."""
        while self._timers and self._timers[0][0] <= now:
            instant, _, happen = heappop(self._timers)
            happen(instant)

    def _later(self, instant: int, happen: Callable[[int], None]) -> None:
        self._timer_number += 1
        heappush(self._timers, (instant, self._timer_number, happen))

    def _now(self) -> int:
        """This instant, with all that was due before it done."""
        now = self._clock()
        self.advance(now)
        return now

    # ── pins ─────────────────────────────────────────────────────────────────────────────────────

    def level(self, number: int) -> bool:
        """The level at a pin; of an input that is listened to, the debounced one."""
        self._now()
        return self._heard.get(number, self._header.level(number))

    def set_levels(self, levels: Mapping[int, bool], says: str = "") -> None:
        """Drive pins, all at one instant; coils follow at once, contacts a little later."""
        now = self._now()
        for number, high in levels.items():
            if self._header.drive(number, high):
                self.log.note(now, "pin", f"GPIO{number}", int(high), says)
        self._coils(now)

    def listen(self, inputs: Mapping[int, InputLine]) -> dict[int, bool]:
        """Read these pins from now on, and tell of their edges; their levels as they are."""
        self._now()
        wired = {one.pin: one for one in self.inputs.values()}
        for number, line in inputs.items():
            self._header.read(number, line.pulled_up)
            if number in wired:
                self._header.feed(number, wired[number].high)
            self._heard[number] = self._header.level(number)
            self._debounce[number] = line.debounce_ns
            self._stirred[number] = self._stirred.get(number, 0) + 1
        return {number: self._heard[number] for number in inputs}

    def listen_no_more(self, pins: Iterable[int]) -> None:
        """Whoever listened is gone."""
        for number in pins:
            self._heard.pop(number, None)
            self._debounce.pop(number, None)

    # ── coils and contacts ───────────────────────────────────────────────────────────────────────

    def _coils(self, now: int) -> None:
        for relay in self.relays:
            energised = self._header.level(relay.coil_pin) == (relay.active == "high")
            if energised != relay.energised:
                relay.energised = energised
                self._tend(relay, now)

    def _tend(self, relay: Relay, now: int) -> None:
        """Let the contact follow its coil and its faults."""
        relay.turn += 1
        wanted = relay.wanted()
        if wanted == relay.contact:
            return
        delay = (PULL_IN_NS if wanted else DROP_OUT_NS) + relay.faults.get("slow", 0)
        self._later(now + delay, partial(self._moves, relay, relay.turn, wanted))
        if "bouncing" in relay.faults:
            for bounce in range(1, BOUNCES + 1):
                at = now + delay + 2 * bounce * BOUNCE_NS
                self._later(at - BOUNCE_NS, partial(self._moves, relay, relay.turn, not wanted))
                self._later(at, partial(self._moves, relay, relay.turn, wanted))

    def _moves(self, relay: Relay, turn: int, closed: bool, now: int) -> None:
        if turn != relay.turn or closed == relay.contact:
            return
        relay.contact = closed
        self.log.note(now, "contact", relay.name, int(closed))
        sense = self.senses.get(relay.name)
        if sense is not None:
            self._input(sense, closed, now)
        self._currents(now)

    def _currents(self, now: int) -> None:
        """Bells sound and dials are moved by what flows."""
        for relay in self.relays:
            is_zone = relay.circuit is not None and relay.circuit.kind == "zone"
            sounds = is_zone and relay.contact and self.supply
            if sounds != relay.sounding:
                relay.sounding = sounds
                self.log.note(now, "bell", relay.name, int(sounds))
        for dials in self.lines.values():
            flows = dials.flowing(self.supply)
            if flows != dials.current:
                dials.current = flows
                dials.flow += 1
                if flows is not None:
                    for place, dial in enumerate(dials.dials):
                        taken_at = now + needed_ns(dial, dials.line.impulse_ns)
                        self._later(taken_at, partial(self._takes, dials, place, dials.flow))

    def _takes(self, dials: DialLine, place: int, flow: int, now: int) -> None:
        """What flows has lasted long enough for this dial."""
        dial, polarity = dials.dials[place], dials.current
        if flow != dials.flow or polarity is None or not heeds(dial, polarity):
            return
        dial = moved(dial, polarity, dials.line.positions)
        dials.dials = (*dials.dials[:place], dial, *dials.dials[place + 1 :])
        text = face_text(dials.line, dial.shows)
        self.log.note(now, "dial", f"{dials.name} {place + 1}", dial.shows, text)

    # ── inputs ───────────────────────────────────────────────────────────────────────────────────

    def _input(self, one: Input, closed: bool, now: int) -> None:
        if one.closed == closed:
            return
        one.closed = closed
        self._header.feed(one.pin, one.high)
        self.log.note(now, "input", one.name, int(closed))
        if one.pin in self._heard:
            self._stirred[one.pin] += 1
            settled = partial(self._settles, one.pin, self._stirred[one.pin])
            self._later(now + self._debounce[one.pin], settled)

    def _settles(self, number: int, stirred: int, now: int) -> None:
        """An input has stood still for its debounce: its edge is told if it is one, as by Linux.

        The edge has the time at which it settled (drivers/gpio/gpiolib-cdev.c, debounce_work_func).
        """
        high = self._header.level(number)
        if stirred != self._stirred[number] or self._heard.get(number, high) == high:
            return
        self._heard[number] = high
        self.edges.append(InputEdge(number, high, now))

    # ── what a person does to it ─────────────────────────────────────────────────────────────────

    def press(self, name: str, closed: bool) -> None:
        """Close or open the contact of a button or switch, by name or pin."""
        now = self._now()
        for one in self.inputs.values():
            if name in (one.name, str(one.pin), f"GPIO{one.pin}"):
                if one.panel is None:
                    raise BoardRefuses(f"{one.name} is no button: it follows what it senses")
                self._input(one, closed, now)
                return
        raise BoardRefuses(f"the board has no button or switch {name!r}")

    def set_supply(self, there: bool) -> None:
        """The 24 V come or go."""
        now = self._now()
        if there == self.supply:
            return
        self.supply = there
        self.log.note(now, "supply", "supply", int(there))
        if "supply" in self.inputs:
            self._input(self.inputs["supply"], there, now)
        self._currents(now)

    def set_fault(self, name: str, fault: Fault, length_ns: int) -> None:
        """Give a relay a fault; `length_ns` is for a slow one. It has as many as it is given."""
        now = self._now()
        relay = self._relay(name)
        relay.faults[fault] = length_ns
        slow = f"slow by {length_ns // MILLISECOND} ms"
        self.log.note(now, "fault", relay.name, 1, slow if fault == "slow" else fault)
        self._tend(relay, now)

    def clear_faults(self, name: str) -> None:
        """Mend a relay."""
        now = self._now()
        relay = self._relay(name)
        relay.faults.clear()
        self.log.note(now, "fault", relay.name, 0, "mended")
        self._tend(relay, now)

    def swap(self, line: str) -> None:
        """Exchange the wires from the pins of a line's + and − to its relays; again: put right."""
        now = self._now()
        dials = self._dials(line)
        if len(dials.relays) != 2:
            raise BoardRefuses(f"line {line} has one relay: there is nothing to exchange")
        plus, minus = dials.relays
        plus.coil_pin, minus.coil_pin = minus.coil_pin, plus.coil_pin
        says = "wires exchanged" if dials.swapped else "wires as drawn"
        self.log.note(now, "fault", f"lines.{line}", int(dials.swapped), says)
        self._coils(now)

    def set_dials(self, line: str, shown: int, took: Polarity) -> None:
        """Put a line's dials to a position, as a person with a ladder would."""
        now = self._now()
        dials = self._dials(line)
        if not 0 <= shown < dials.line.positions:
            raise BoardRefuses(f"line {line} has positions 0 to {dials.line.positions - 1}")
        dials.dials = model_dials(shown, took if len(dials.relays) == 2 else "")
        self.log.note(now, "dial", f"{line} all", shown, f"put to {face_text(dials.line, shown)}")

    def _relay(self, name: str) -> Relay:
        for relay in self.relays:
            if name in (relay.name, str(relay.pin), f"GPIO{relay.pin}"):
                return relay
        names = ", ".join(relay.name for relay in self.relays)
        raise BoardRefuses(f"the board has no relay {name!r}; it has {names}")

    def _dials(self, line: str) -> DialLine:
        if line not in self.lines:
            raise BoardRefuses(f"the board has no line {line!r}; it has {', '.join(self.lines)}")
        return self.lines[line]

    # ── what a person sees of it ─────────────────────────────────────────────────────────────────

    def state(self) -> dict[str, Any]:
        """Everything, as it is now; plain enough for JSON."""
        self._now()
        return {
            "building": self.name,
            "wiring": self.wiring,
            "supply": self.supply,
            "relays": [
                {
                    "name": relay.name,
                    "pin": relay.pin,
                    "level": int(self._header.level(relay.pin)),
                    "active": relay.active,
                    "closed": relay.contact,
                    "sounding": relay.sounding,
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
                    "swapped": dials.swapped,
                }
                for name, dials in self.lines.items()
            },
            "inputs": [
                {"name": one.name, "pin": one.pin, "closed": one.closed}
                for one in self.inputs.values()
            ],
            "last_change": self.log.last,
        }
