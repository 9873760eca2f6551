"""The hand: a process of its own that holds every pin.

It is told plays ahead of time and carries them out on the monotonic clock, at real-time priority
where it may, and awake a millisecond before each edge; it keeps interlock, `longest` and `a_minute`
by itself; and it opens everything the moment the daemon's end of their socket closes, or 3 s after
the daemon's last beat. So nothing that befalls the daemon can leave a bell on or blur an edge.
Should it hang by itself, the kernel ends it 3.5 s after its last turn (SIGALRM), whether or not a
daemon is left to notice.

It reads the inputs too, and tells of them. Two of the panel's words it obeys by itself, once they
are told: `stop` cuts every ring in progress, and where a `quiet` switch is closed nothing rings, as
somebody may be on a ladder at the bell. What the senses say goes to the rules. The health relay is
energised while the daemon's last beat said that all is well.

Started as `python -m controller.circuits.hand LINK PULSE` by the daemon, with the descriptors of
their socket and of the eventfd that shows the daemon that the hand turns; not for people.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import select
import signal
import socket
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from controller.building.wiring import PanelInput, Wiring, from_json
from controller.circuits.lines import InputEdge, InputLine, PinsFault
from controller.circuits.outbox import Outbox
from controller.circuits.release import write_claim
from controller.circuits.rules import HandRules, Switch
from controller.circuits.wire import (
    MOST_BYTES,
    Beat,
    Begin,
    End,
    HandFault,
    Ready,
    Sensed,
    packed,
    switched,
    unpacked,
)
from controller.engine.contract import Amend, Cancel, Outcome, PanelMoved, Play, SupplyMoved

if TYPE_CHECKING:
    from collections.abc import Mapping

SILENCE_NS = 3_000_000_000  # after the daemon's last beat everything opens
HUNG_SECONDS = 3.5  # a turn waits no longer than SILENCE_NS; design rule 18 gives a hung hand 4 s
SENSE_DEBOUNCE_NS = 1_000_000  # short, so that a contact's own bouncing is seen: a choice
SUPPLY_DEBOUNCE_NS = 5_000_000  # a choice
# So long before its instant an edge is decided on: longer than waking up and deciding take on a
# small board. What remains to be done at the instant is to drive the pin. A choice.
FORESEEN_NS = 1_000_000
_PRIORITY = 50
_MCL_CURRENT_AND_FUTURE = 3


class Pins(Protocol):
    """A pin factory of ours, for the kernel's pins or the fake board's."""

    def set_many(self, levels: Mapping[int, bool]) -> None: ...
    def fileno(self) -> int: ...
    def known(self) -> dict[int, bool]: ...
    def read_events(self) -> list[InputEdge]: ...
    def close(self) -> None: ...


class Hand:
    """The loop around the rules: sockets and pins on one side, instants on the other."""

    def __init__(
        self, link: socket.socket, pulse: int, begin: Begin, pins: Pins, wiring: Wiring
    ) -> None:
        now = time.monotonic_ns()
        self.link = link
        self.pulse = pulse
        self.pins = pins
        self.link_fd, self.pins_fd = link.fileno(), pins.fileno()
        self.out = Outbox(link)
        self.circuits = {circuit.name: circuit for circuit in wiring.circuits}
        self.rules = HandRules(begin.hand, wiring.circuits, now)
        self.health = wiring.health
        self.well = False  # as the health relay shows
        self.heard = now
        self.ending = False
        levels = pins.known()
        self.panel = {entry.pin: entry for entry in wiring.panel}
        self.closed = {e.name: levels[e.pin] == (e.active == "high") for e in wiring.panel}
        self.senses = _senses(wiring)
        self.measures = begin.measures
        for pin, (circuit, relay) in self.senses.items():
            self.rules.sensed(circuit, relay, levels[pin], now)
        self.rules.quiet(self._quiet_zones(), now)
        supply = wiring.supply_sense
        self.ready = Ready(tuple(self.closed.items()), supply is None or levels[supply])

    def run(self) -> int:
        """Serve until the daemon ends, goes silent, or says so. Everything is open afterwards."""
        self.out.say(self.ready)
        if self.measures:
            now = time.monotonic_ns()
            for pin, closed in self.pins.known().items():
                if pin in self.senses:
                    self.out.say(Sensed(*self.senses[pin], closed, now))
        while self.turn():
            signal.setitimer(signal.ITIMER_REAL, HUNG_SECONDS)
            os.eventfd_write(self.pulse, 1)
        self.carry_out(*self.rules.open_all(time.monotonic_ns()))
        self.show_well(False)
        signal.setitimer(signal.ITIMER_REAL, 0)
        return 0 if self.ending else 1

    def turn(self) -> bool:
        """Wait for what comes next, and do it; False where it was the last.

        Of everything that may come a bounded part is done, so that nothing holds up the rest.
        """
        readable = self._wait()
        now = time.monotonic_ns()
        if now >= self.heard + SILENCE_NS:
            self.out.say(HandFault("the daemon has not beaten for 3 s; all relays are opened"))
            return False
        if self.pins_fd in readable:  # before anything is judged by them
            self.read_inputs(now)
        self.play(now)
        if self.link_fd in readable and not self.hear():
            return False
        for fault in self.rules.found():
            self.out.say(fault)
        self.out.flush()
        return not self.ending

    def _wait(self) -> list[int]:
        """Until an input or the daemon has something to say, or an instant has come: what can be
        read. A daemon that does not take what waits for it is not heard either.
        """
        until = self.heard + SILENCE_NS
        instant, edge = self.rules.next_instant(), self.rules.next_edge()
        if instant is not None:
            until = min(until, instant)
        if edge is not None:
            until = min(until, edge - FORESEEN_NS)
        reading = [self.pins_fd] if self.out.full else [self.pins_fd, self.link_fd]
        writing = [self.link_fd] if self.out.waiting else []
        seconds = max(0, until - time.monotonic_ns()) / 1e9
        readable, _, _ = select.select(reading, writing, [], seconds)
        return readable

    # ── inputs ───────────────────────────────────────────────────────────────────────────────────

    def read_inputs(self, now: int) -> None:
        """Take what the inputs did, in order."""
        for edge in self.pins.read_events():
            if edge.pin in self.panel:
                self.panel_moved(self.panel[edge.pin], edge.high, now)
            elif edge.pin in self.senses:
                self.rules.sensed(*self.senses[edge.pin], edge.high, edge.mono)
                if self.measures:
                    self.out.say(Sensed(*self.senses[edge.pin], edge.high, edge.mono))
            else:
                self.out.say(SupplyMoved(edge.high, edge.mono))

    def panel_moved(self, entry: PanelInput, high: bool, now: int) -> None:
        """Tell of a button or switch; `stop` and `quiet` act here, whatever the daemon does."""
        closed = high == (entry.active == "high")
        self.closed[entry.name] = closed
        self.out.say(PanelMoved(entry.name, closed))
        if entry.does == "stop" and closed:
            self.carry_out(*self.rules.stop(now))
        elif entry.does == "quiet":
            self.carry_out(*self.rules.quiet(self._quiet_zones(), now))

    def _quiet_zones(self) -> frozenset[str]:
        """The circuits of which a switch says that somebody may be at the bell."""
        return frozenset(
            f"zones.{zone}"
            for entry in self.panel.values()
            if entry.does == "quiet" and self.closed[entry.name]
            for zone in entry.zones
        )

    # ── the daemon ───────────────────────────────────────────────────────────────────────────────

    def hear(self) -> bool:
        """Take what the daemon says; False when it is gone."""
        try:
            data = self.link.recv(MOST_BYTES)
        except ConnectionError:
            return False
        if not data:
            return False
        message = unpacked(data)
        now = time.monotonic_ns()
        match message:
            case Play():
                refused = self.rules.take(message, now)
                if refused is not None:
                    self.out.say(refused)
            case Amend():
                self.out.say(self.rules.amend(message, now))
            case Cancel():
                self.carry_out(*self.rules.cancel(message, now))
            case Beat(well):
                self.heard = now
                self.show_well(well)
            case End():
                self.ending = True
        return True

    def play(self, now: int) -> None:
        """Do what is due; an edge that is near is decided on now and made at its instant.

        What comes in between is heard after it, and finds it made.
        """
        if self.rules.idle:
            return
        edge = self.rules.next_edge()
        at = now if edge is None or edge > now + FORESEEN_NS else max(now, edge)
        self.carry_out(*self.rules.advance(at), at)

    def carry_out(self, switches: list[Switch], outcomes: list[Outcome], at: int = 0) -> None:
        """Move the relays, openings first, but not before `at`; then say what was done."""
        levels = {}
        for switch in sorted(switches, key=lambda switch: switch.closed):
            circuit = self.circuits[switch.circuit]
            levels[circuit.relays[switch.relay]] = switch.closed == (circuit.active == "high")
        while time.monotonic_ns() < at:
            pass  # asleep, it would wake too late
        if levels:
            now = time.monotonic_ns()
            self.pins.set_many(levels)
            made = time.monotonic_ns()
            for switch in switches:
                if not switch.closed:
                    self.rules.opened(switch.circuit, made)
                self.out.say(switched(switch, now))
        for outcome in outcomes:
            self.out.say(outcome)

    def show_well(self, well: bool) -> None:
        """Let the health relay, where there is one, show whether all is well."""
        if self.health is not None and well != self.well:
            pin, active = self.health
            self.pins.set_many({pin: well == (active == "high")})
        self.well = well


def inactive_levels(wiring: Wiring) -> dict[int, bool]:
    """Pin → the level at which its relay is open, the health relay's too."""
    levels = {pin: one.active == "low" for one in wiring.circuits for pin in one.relays}
    if wiring.health is not None:
        pin, active = wiring.health
        levels[pin] = active == "low"
    return levels


def input_lines(wiring: Wiring, sense_debounce_ns: int = SENSE_DEBOUNCE_NS) -> dict[int, InputLine]:
    """Pin → how it is read: the panel as the file says, senses high while closed."""
    lines = {entry.pin: InputLine(entry.active, entry.debounce_ns) for entry in wiring.panel}
    lines |= {pin: InputLine("high", sense_debounce_ns) for pin in _senses(wiring)}
    if wiring.supply_sense is not None:
        lines[wiring.supply_sense] = InputLine("high", SUPPLY_DEBOUNCE_NS)
    return lines


def _senses(wiring: Wiring) -> dict[int, tuple[str, int]]:
    """Pin of a sense → circuit and relay of which it reads the contact."""
    return {
        pin: (circuit.name, relay)
        for circuit in wiring.circuits
        for relay, pin in enumerate(circuit.sense or ())
    }


def _hold(begin: Begin, wiring: Wiring) -> Pins:
    """Write down what is about to be claimed, then claim it: all lines, inactive, in one call."""
    outputs = inactive_levels(wiring)
    inputs = input_lines(wiring, 0 if begin.measures else SENSE_DEBOUNCE_NS)
    if begin.board:
        from controller.circuits.fakeboard.pins import FakePins

        board = Path(begin.board)
        write_claim(Path(begin.runtime), None, board, outputs)
        return FakePins(board, outputs, inputs)
    from controller.circuits.pins import GpiodFactory, find_chip

    chip = find_chip()
    write_claim(Path(begin.runtime), chip, None, outputs)
    return GpiodFactory(chip, outputs, inputs)


def _be_quick() -> None:
    """Real-time priority and locked memory where the machine allows it; no collector pauses."""
    gc.collect()
    gc.freeze()
    gc.disable()
    with contextlib.suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_PRIORITY))
    ctypes.CDLL(None, use_errno=True).mlockall(_MCL_CURRENT_AND_FUTURE)


def main() -> int:
    """Hold the pins for the daemon at the other end of the socket given by number."""
    # Ctrl-C and a stop of the service reach this process too: it ends when its daemon does.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    signal.signal(signal.SIGALRM, signal.SIG_DFL)  # which ends it, also where Python is stuck
    link, pulse = socket.socket(fileno=int(sys.argv[1])), int(sys.argv[2])
    data = link.recv(MOST_BYTES)
    if not data:
        return 1
    begin = unpacked(data)
    assert isinstance(begin, Begin), "the first word says what to hold"
    wiring = from_json(begin.wiring)
    try:
        pins = _hold(begin, wiring)
    except PinsFault as fault:
        _say_last(link, fault)
        return 1
    try:
        _be_quick()
        return Hand(link, pulse, begin, pins, wiring).run()
    except PinsFault as fault:
        _say_last(link, fault)
        return 1
    finally:
        with contextlib.suppress(PinsFault):
            pins.close()


def _say_last(link: socket.socket, fault: PinsFault) -> None:
    """Why it ends, if anybody listens: relays may be closed still, so nobody is waited for."""
    with contextlib.suppress(OSError):
        link.send(packed(HandFault(str(fault))), socket.MSG_DONTWAIT | socket.MSG_NOSIGNAL)


if __name__ == "__main__":
    sys.exit(main())
