"""The words between the engine and everything around it.

All instants are integer nanoseconds. `utc` counts from 1970 on the system's clock; `mono` is the
machine's monotonic clock and belongs to one `boot` (one run of the machine).

The contract:

1.  One thread owns the engine; everyone else only puts inputs into its queue.
2.  A play goes to the hand only after its batch is stored, or has failed to store and this was
    said aloud. Only `at_once` plays (rings by hand) go without waiting.
3.  Closing and opening are inside the play: nobody needs to wake for a relay to open.
4.  Due times are judged on utc; impulse, gap, longest and a minute on mono.
5.  The same Tick again at the same Now decides nothing.
6.  `recover` is lawful for every prefix of the records.
7.  At most one play a circuit. After `latest_mono` the hand refuses it (never_began). A play
    belongs to one hand and never reaches the next.
8.  After a clock step every play not begun is cancelled; the hand ignores the cancelling of one
    that it began. Only after never_began is it voided in the store and judged afresh.
9.  A sounding that grows is an amendment of its play: accepted, or too late.
10. An order is answered after its commit, except `stop`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from controller.engine.records import Record
from controller.engine.wishes import Wish

if TYPE_CHECKING:
    from controller.building.model import Building


class Now(NamedTuple):
    """One instant on both clocks.

    `trusted`: whether kernel or RTC vouch for the system's clock at this instant. Who once vouched
    for it is remembered (engine/trust.py), so that losing a time server stops nothing.
    """

    utc: int
    mono: int
    boot: str
    trusted: bool


# ── plays: what the hand is asked to do ──────────────────────────────────────────────────────────


class Play(NamedTuple):
    """One closing pattern of one relay, told ahead of time.

    `edges` are offsets (ns) from the start: close, open, close, open …; an even number, strictly
    rising, the first 0; so the last edge opens. A late play shifts whole.
    """

    id: int
    hand: str  # the hand it belongs to
    circuit: str  # "zones.north", "lines.main"
    relay: int  # 0; on an alternating line 0 gives + and 1 gives −
    start_mono: int
    latest_mono: int
    edges: tuple[int, ...]


class Amend(NamedTuple):
    """New edges for a play that has been sent: later openings and closings may change."""

    play: int
    edges: tuple[int, ...]


class Cancel(NamedTuple):
    """Do not begin this play. `stop` also opens the relay of a play that has begun."""

    play: int
    stop: bool


# ── inputs ───────────────────────────────────────────────────────────────────────────────────────


class Tick(NamedTuple):
    """Look again."""


class Stored(NamedTuple):
    """The journal's word on a batch."""

    batch: int
    ok: bool


class Outcome(NamedTuple):
    """The hand's word on a play: mono of its first closing and of its last opening.

    A play that is cut and ends as it starts was ordered, and its contact never closed (by its
    sense input).
    """

    play: int
    how: Literal["done", "cut", "never_began"]
    start: int
    end: int


class Amended(NamedTuple):
    """The hand's word on an amendment."""

    play: int
    accepted: bool


class HandReady(NamedTuple):
    """A new hand holds the pins; all relays are open. And what its inputs read."""

    hand: str
    panel: tuple[tuple[str, bool], ...] = ()  # each of the panel's entries: is its contact closed
    supply: bool = True  # whether the 24 V is there; True where nobody can tell


class HandLost(NamedTuple):
    """The hand is gone, and with it whatever it was doing."""

    hand: str


class PanelMoved(NamedTuple):
    """A contact of the panel was closed or opened."""

    name: str
    closed: bool


class SupplyMoved(NamedTuple):
    """The 24 V went or came back, at `mono`."""

    there: bool
    mono: int


ContactKind = Literal["stuck", "welded", "slow", "bouncing"]


class ContactFault(NamedTuple):
    """By its sense input a relay's contact does not do as it is told; or does again."""

    circuit: str
    relay: int
    kind: ContactKind
    lasts: bool  # False: it has ended


class FaultFound(NamedTuple):
    """Something around the engine is not as it should be; `says` is "" where it is again."""

    name: str
    says: str


class NewBuilding(NamedTuple):
    """The file was reloaded."""

    building: Building


class Order(NamedTuple):
    """Somebody wants something."""

    id: int
    who: str
    what: Wish


Input = (
    Tick
    | Stored
    | Outcome
    | Amended
    | HandReady
    | HandLost
    | PanelMoved
    | SupplyMoved
    | ContactFault
    | FaultFound
    | NewBuilding
    | Order
)


class Answer(NamedTuple):
    """What an order came to, in words."""

    order: int
    ok: bool
    text: str


class Decision(NamedTuple):
    """All that one step of the engine wants done."""

    batch: int  # 0 where there is nothing to store
    records: tuple[Record, ...] = ()
    plays: tuple[Play, ...] = ()  # go to the hand once the batch is stored
    at_once: tuple[Play, ...] = ()  # go to the hand without waiting
    amends: tuple[Amend, ...] = ()  # at once: the engine holds one back until its batch is stored
    cancels: tuple[Cancel, ...] = ()  # at once
    answers: tuple[Answer, ...] = ()  # once the batch is stored
    answers_at_once: tuple[Answer, ...] = ()
    look_again_utc: int | None = None
    look_again_mono: int | None = None
    well: bool = False  # hand, store, clock and supply are well, and no fault lasts
