"""The words between the daemon and its hand: one JSON list a datagram, on a SOCK_SEQPACKET pair.

to the hand:   ["begin", …] first; then ["play", …], ["amend", …], ["cancel", …],
               ["beat", well], ["end"]
from the hand: ["ready", [[name, closed], …], supply] first; then ["outcome", …], ["amended", …],
               ["switched", …], ["panel", name, closed], ["supply", there, mono],
               ["contact", circuit, relay, kind, lasts]; ["sensed", …] where it was asked for; last,
               where it fails, ["fault", words]

A named word carries the fields of its tuple, here or in the engine's contract, in their order.
"""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from controller.circuits.rules import Switch
from controller.engine.contract import (
    Amend,
    Amended,
    Cancel,
    ContactFault,
    Outcome,
    PanelMoved,
    Play,
    SupplyMoved,
)

MOST_BYTES = 65_536


class Begin(NamedTuple):
    """What a hand is to hold."""

    hand: str
    wiring: str  # Wiring.to_json()
    runtime: str  # folder in which it writes down what it claims
    board: str  # the fake board's socket; "" for the pins of this machine
    measures: bool = False  # senses are read without debounce, and each of their edges is told


class Beat(NamedTuple):
    """The engine's thread is alive; and whether all is well, which the health relay shows."""

    well: bool


class End(NamedTuple):
    """Open everything and end."""


class Ready(NamedTuple):
    """The pins are held, and all relays are open. And what the inputs read."""

    panel: tuple[tuple[str, bool], ...]  # each of the panel's entries: is its contact closed
    supply: bool  # whether the 24 V is there; True where it is not sensed


class Switched(NamedTuple):
    """A relay was closed or opened: its pin was driven right after `mono`, so that whatever
    follows from it is later.
    """

    circuit: str
    relay: int
    closed: bool
    mono: int


class Sensed(NamedTuple):
    """A relay's contact reads closed or open, since `mono`: by the kernel's stamp of the edge."""

    circuit: str
    relay: int
    closed: bool
    mono: int


class HandFault(NamedTuple):
    """Why the hand cannot go on, in words."""

    says: str


ToHand = Begin | Play | Amend | Cancel | Beat | End
FromHand = (
    Ready
    | Outcome
    | Amended
    | Switched
    | Sensed
    | PanelMoved
    | SupplyMoved
    | ContactFault
    | HandFault
)
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
    "sensed": Sensed,
    "panel": PanelMoved,
    "supply": SupplyMoved,
    "contact": ContactFault,
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
    beat = _BEATS_READ.get(data)
    if beat is not None:
        return beat
    name, *fields = json.loads(data)
    if name not in _KINDS:
        raise ValueError(f"a message that nobody knows: {name}")
    return _KINDS[name](*map(_tuples, fields))


# One goes every second, for years: both are made and read once.
BEATS = {well: packed(Beat(well)) for well in (False, True)}
_BEATS_READ = {data: Beat(well) for well, data in BEATS.items()}


def switched(switch: Switch, mono: int) -> Switched:
    return Switched(*switch, mono)


def _tuples(plain: Any) -> Any:
    """Lists as tuples, however deep: JSON has no other."""
    return tuple(map(_tuples, plain)) if isinstance(plain, list) else plain
