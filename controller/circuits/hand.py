"""The hand: a process of its own that holds every pin.

It is told plays ahead of time and carries them out on the monotonic clock, at real-time priority
where it may; it keeps interlock, `longest` and `a_minute` by itself; and it opens everything the
moment the daemon's end of their socket closes, or 3 s after the daemon's last beat. So nothing that
befalls the daemon can leave a bell on or blur an edge.

Started as `python -m controller.circuits.hand FD` by the daemon; not for people.
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

from controller.building.wiring import Circuit, Wiring, from_json
from controller.circuits.lines import PinsFault
from controller.circuits.release import write_claim
from controller.circuits.rules import HandRules, Switch
from controller.circuits.wire import (
    MOST_BYTES,
    Beat,
    Begin,
    End,
    FromHand,
    HandFault,
    Ready,
    packed,
    switched,
    unpacked,
)
from controller.engine.contract import Amend, Cancel, Outcome, Play

if TYPE_CHECKING:
    from collections.abc import Mapping

SILENCE_NS = 3_000_000_000  # after the daemon's last beat everything opens
_PRIORITY = 50
_MCL_CURRENT_AND_FUTURE = 3


class Pins(Protocol):
    """A pin factory of ours, for the kernel's pins or the fake board's."""

    def set_many(self, levels: Mapping[int, bool]) -> None: ...
    def close(self) -> None: ...


class Hand:
    """The loop around the rules: sockets and pins on one side, instants on the other."""

    def __init__(self, link: socket.socket, begin: Begin, pins: Pins, wiring: Wiring) -> None:
        self.link = link
        self.pins = pins
        self.circuits = {circuit.name: circuit for circuit in wiring.circuits}
        self.rules = HandRules(begin.hand, wiring.circuits, time.monotonic_ns())
        self.heard = time.monotonic_ns()
        self.ending = False

    def run(self) -> int:
        """Serve until the daemon ends, goes silent, or says so. Everything is open afterwards."""
        self.tell(Ready())
        while not self.ending:
            now = time.monotonic_ns()
            silent_at = self.heard + SILENCE_NS
            if now >= silent_at:
                self.tell(HandFault("the daemon has not beaten for 3 s; all relays are opened"))
                break
            instant = self.rules.next_instant()
            if instant is not None and instant <= now:
                self.carry_out(*self.rules.advance(now))
                continue
            until = silent_at if instant is None else min(instant, silent_at)
            readable, _, _ = select.select([self.link], [], [], (until - now) / 1e9)
            if readable and not self.hear():
                break
        self.carry_out(*self.rules.open_all(time.monotonic_ns()))
        return 0 if self.ending else 1

    def hear(self) -> bool:
        """Take what the daemon says; False when it is gone."""
        data = self.link.recv(MOST_BYTES)
        if not data:
            return False
        message = unpacked(data)
        now = time.monotonic_ns()
        match message:
            case Play():
                refused = self.rules.take(message, now)
                if refused is not None:
                    self.tell(refused)
            case Amend():
                self.tell(self.rules.amend(message, now))
            case Cancel():
                self.carry_out(*self.rules.cancel(message, now))
            case Beat():
                self.heard = now
            case End():
                self.ending = True
        return True

    def carry_out(self, switches: list[Switch], outcomes: list[Outcome]) -> None:
        """Move the relays, openings first, then say what was done."""
        levels = {}
        for switch in sorted(switches, key=lambda switch: switch.closed):
            circuit = self.circuits[switch.circuit]
            levels[circuit.relays[switch.relay]] = switch.closed == (circuit.active == "high")
        if levels:
            self.pins.set_many(levels)
            now = time.monotonic_ns()
            for switch in switches:
                self.tell(switched(switch, now))
        for outcome in outcomes:
            self.tell(outcome)

    def tell(self, message: FromHand) -> None:
        """Say it if anybody listens; a daemon that does not never holds the hand up."""
        with contextlib.suppress(OSError):
            self.link.send(packed(message), socket.MSG_DONTWAIT | socket.MSG_NOSIGNAL)


def inactive_levels(circuits: tuple[Circuit, ...]) -> dict[int, bool]:
    """Pin → the level at which its relay is open."""
    return {pin: circuit.active == "low" for circuit in circuits for pin in circuit.relays}


def _hold(begin: Begin, wiring: Wiring) -> Pins:
    """Write down what is about to be claimed, then claim it: all lines, inactive, in one call."""
    outputs = inactive_levels(wiring.circuits)
    if begin.board:
        from controller.circuits.fakeboard.pins import FakePins

        board = Path(begin.board)
        write_claim(Path(begin.runtime), None, board, outputs)
        return FakePins(board, outputs, {})
    from controller.circuits.pins import GpiodFactory, find_chip

    chip = find_chip()
    write_claim(Path(begin.runtime), chip, None, outputs)
    return GpiodFactory(chip, outputs, {})


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
    link = socket.socket(fileno=int(sys.argv[1]))
    data = link.recv(MOST_BYTES)
    if not data:
        return 1
    begin = unpacked(data)
    assert isinstance(begin, Begin), "the first word says what to hold"
    wiring = from_json(begin.wiring)
    try:
        pins = _hold(begin, wiring)
    except PinsFault as fault:
        link.send(packed(HandFault(str(fault))))
        return 1
    try:
        _be_quick()
        return Hand(link, begin, pins, wiring).run()
    except PinsFault as fault:
        with contextlib.suppress(OSError):
            link.send(packed(HandFault(str(fault))), socket.MSG_NOSIGNAL)
        return 1
    finally:
        with contextlib.suppress(PinsFault):
            pins.close()


if __name__ == "__main__":
    sys.exit(main())
