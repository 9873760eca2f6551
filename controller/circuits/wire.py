"""The words between the daemon and its hand: one JSON list a datagram, on a SOCK_SEQPACKET pair.

to the hand:   ["begin", …] first; then ["play", …], ["amend", …], ["cancel", …], ["beat"], ["end"]
from the hand: ["ready"], ["outcome", …], ["amended", …], ["switched", …], ["fault", words]
"""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from controller.circuits.rules import Switch
from controller.engine.contract import Amend, Amended, Cancel, Outcome, Play

MOST_BYTES = 65_536


class Begin(NamedTuple):
    """What a hand is to hold."""

    hand: str
    wiring: str  # Wiring.to_json()
    runtime: str  # folder in which it writes down what it claims
    board: str  # the fake board's socket; "" for the pins of this machine


class Beat(NamedTuple):
    """The engine's thread is alive."""


class End(NamedTuple):
    """Open everything and end."""


class Ready(NamedTuple):
    """The pins are held, and all relays are open."""


class Switched(NamedTuple):
    """A relay was closed or opened."""

    circuit: str
    relay: int
    closed: bool
    mono: int


class HandFault(NamedTuple):
    """Why the hand cannot go on, in words."""

    says: str


ToHand = Begin | Play | Amend | Cancel | Beat | End
FromHand = Ready | Outcome | Amended | Switched | HandFault
_KINDS: dict[str, Any] = {
    "begin": Begin,
    "play": Play,
    "amend": Amend,
    "cancel": Cancel,
    "beat": Beat,
    "end": End,
    "ready": Ready,
    "outcome": Outcome,
    "amended": Amended,
    "switched": Switched,
    "fault": HandFault,
}
_NAMES = {kind: name for name, kind in _KINDS.items()}


def packed(message: ToHand | FromHand) -> bytes:
    """One datagram."""
    data = json.dumps([_NAMES[type(message)], *message], separators=(",", ":")).encode()
    assert len(data) <= MOST_BYTES, "a message fits its datagram"
    return data


def unpacked(data: bytes) -> Any:
    """The message of one datagram. `ValueError` or `TypeError` on anything else."""
    name, *fields = json.loads(data)
    if name not in _KINDS:
        raise ValueError(f"a message that nobody knows: {name}")
    return _KINDS[name](*(tuple(f) if isinstance(f, list) else f for f in fields))


def switched(switch: Switch, mono: int) -> Switched:
    return Switched(*switch, mono)
