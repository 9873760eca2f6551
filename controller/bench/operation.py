"""One closing and opening of one relay: what was wanted, and what hand and senses said of it. Pure.

`Ears` keep what the hand has said of contacts and inputs up to now. `Gathering` follows one
operation until nothing more is to be waited for: where the contact is sensed, that is some while
after its opening, so that whether it stays closed, or opens late, is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from controller.building.wiring import Circuit, PanelInput
from controller.circuits.senses import MILLISECOND, RELAY_NEEDS_NS, SLOW_NS
from controller.circuits.wire import FromHand, Sensed, Switched
from controller.engine.contract import (
    ContactFault,
    ContactKind,
    Outcome,
    PanelMoved,
    Play,
    SupplyMoved,
)

LEAD_NS = 30 * MILLISECOND  # from telling the hand to the closing: a choice
MARGIN_NS = 50 * MILLISECOND  # for the hand's words to arrive: a choice
SETTLE_NS = RELAY_NEEDS_NS + MARGIN_NS  # after an opening
LATEST_NS = 2_000 * MILLISECOND  # after its instant, or its gap, a closing is given up: a choice
_LAST_WORD_NS = 1_000 * MILLISECOND  # the hand has answered by then, or it never will: a choice

Key = tuple[str, int]  # circuit and relay


class Wanted(NamedTuple):
    """One closing that a test wants."""

    circuit: str
    relay: int
    length_ns: int
    at: int = 0  # mono; one that has passed is now


class Operation(NamedTuple):
    """What came of it."""

    wanted: Wanted
    start: int  # mono, as it was asked of the hand
    outcome: Outcome | None  # None: the hand never said
    closed_at: int | None  # mono: its coil was energised; None: it never was
    opened_at: int | None  # and let go
    edges: tuple[Sensed, ...]  # of every sense meanwhile, in order
    lasting: frozenset[ContactKind]  # what the hand found wrong with its contact, at the end
    welded: tuple[Key, ...]  # contacts that are welded at the end
    stopped_by: tuple[str, ...]  # entries of the panel that keep it open, and were closed meanwhile

    @property
    def key(self) -> Key:
        return self.wanted.circuit, self.wanted.relay


class Ears:
    """What the hand has said so far."""

    def __init__(self, panel: Iterable[tuple[str, bool]], supply: bool) -> None:
        """As its first word had it."""
        self.panel = dict(panel)
        self.supply = supply
        self.reads: dict[Key, bool] = {}
        self._lasting: dict[Key, set[ContactKind]] = {}

    def hear(self, word: FromHand) -> None:
        """Take a word of the hand's."""
        match word:
            case Sensed(circuit, relay, closed, _):
                self.reads[circuit, relay] = closed
            case ContactFault(circuit, relay, kind, lasts):
                kinds = self._lasting.setdefault((circuit, relay), set())
                (kinds.add if lasts else kinds.discard)(kind)
            case PanelMoved(name, closed):
                self.panel[name] = closed
            case SupplyMoved(there, _):
                self.supply = there
            case _:
                pass

    def lasting(self, key: Key) -> frozenset[ContactKind]:
        """What is wrong with a contact."""
        return frozenset(self._lasting.get(key, ()))

    def welded(self) -> tuple[Key, ...]:
        """Contacts that do not open."""
        return tuple(key for key, kinds in self._lasting.items() if "welded" in kinds)


class Gathering:
    """One operation under way."""

    def __init__(
        self, wanted: Wanted, play: Play, circuit: Circuit, panel: Iterable[PanelInput]
    ) -> None:
        self.wanted = wanted
        self.play = play
        self._sensed = circuit.sense is not None
        self._stoppers = {entry.name for entry in panel if _keeps_open(entry, circuit)}
        self._outcome: Outcome | None = None
        self._closed_at: int | None = None
        self._opened_at: int | None = None
        self._edges: list[Sensed] = []
        self._stopped_by: dict[str, None] = {}

    def hear(self, word: FromHand, ears: Ears) -> None:
        """Take a word of the hand's, which the ears have heard."""
        match word:
            case Outcome(play=number) if number == self.play.id:
                self._outcome = word
            case Switched(circuit, relay, closed, mono) if (circuit, relay) == self.wanted[:2]:
                if closed:
                    self._closed_at = mono
                elif self._closed_at is not None:
                    self._opened_at = mono
            case Sensed():
                self._edges.append(word)
            case _:
                pass
        self._stopped_by |= {name: None for name in self._stoppers if ears.panel.get(name)}

    def settled_at(self, ears: Ears) -> int:
        """The instant (mono) after which nothing more is waited for; it may move on."""
        if self._outcome is None:
            return self.play.latest_mono + self.wanted.length_ns + _LAST_WORD_NS
        if self._opened_at is None or not self._sensed:
            return 0
        welded = "welded" in ears.lasting(self.wanted[:2])
        return self._opened_at + (SLOW_NS + MARGIN_NS if welded else SETTLE_NS)

    def operation(self, ears: Ears) -> Operation:
        """What came of it, by now."""
        return Operation(
            self.wanted,
            self.play.start_mono,
            self._outcome,
            self._closed_at,
            self._opened_at,
            tuple(self._edges),
            ears.lasting(self.wanted[:2]),
            ears.welded(),
            tuple(self._stopped_by),
        )


def play_of(wanted: Wanted, number: int, hand: str, circuit: Circuit, now: int) -> Play:
    """The play that gives it, as soon as may be."""
    start = max(wanted.at, now + LEAD_NS)
    latest = start + circuit.gap_ns + LATEST_NS
    edges = (0, wanted.length_ns)
    return Play(number, hand, wanted.circuit, wanted.relay, start, latest, edges)


def _keeps_open(entry: PanelInput, circuit: Circuit) -> bool:
    """Whether a closed contact of the panel keeps this circuit's relays open."""
    if circuit.kind != "zone":
        return False
    return entry.does == "stop" or (entry.does == "quiet" and circuit.name[6:] in entry.zones)
