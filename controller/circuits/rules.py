"""What the hand may do with its relays: plays, interlock and limits. A state machine without I/O.

The real hand runs it on the monotonic clock and real pins, the rehearsal on virtual time; there is
no other copy of these rules.

A circuit is at rest, or has one play, pending or begun:

    rest ──take──▶ pending ──its instant──▶ begun ──last edge──▶ rest   (done)
                   pending ──cancel, quiet, past latest──▶ rest         (never_began)
                                            begun ──stop, quiet, a limit──▶ rest   (cut)

- A play begins at its start; a late one shifts whole; after `latest_mono` it never begins.
- On a line a closing waits until every relay of the line has been open for `gap`; the two relays of
  an alternating line are never closed together. A new hand counts its lines as just opened.
- One continuous closing never exceeds `longest`; the closings of a zone in any minute never exceed
  `a_minute`; whatever was asked, the contact opens there.
- Where senses are read (`senses.py` has what is found wrong by them): on a line no relay closes
  while a contact of it reads closed, and the `gap` runs from when the last of them was read open,
  if that is later than the opening of its coil. (On a single line, too: an impulse into a contact
  that has not opened moves nothing.) A play that ordered a closing of
  LEAST_CLOSING_NS or more, and whose contact never read closed, was cut as it began. It counts
  towards a minute all the same: it may be the sense that is broken.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from controller.building.wiring import Circuit
from controller.circuits.senses import Contact
from controller.engine.contract import Amend, Amended, Cancel, ContactFault, Outcome, Play
from controller.timetable.contact import MINUTE, Closing, first_excess

# An edge is made some tenths of a millisecond after its instant, so closings that add up to exactly
# `a_minute` on paper may pass it by that much on the wall.
EDGE_SLACK_NS = 20_000_000
# By its sense an impulse that lasted for a lesser part was cut: the slowest model dial needs 0.7 of
# it, and some room.
WHOLE_IMPULSE = 0.8
_MOST_EDGES = 2_000


class Switch(NamedTuple):
    """One relay to be closed or opened now."""

    circuit: str
    relay: int
    closed: bool


class _Desk:
    """One circuit and what is being played on it."""

    def __init__(self, circuit: Circuit, now: int) -> None:
        self.circuit = circuit
        self.play: Play | None = None
        self.begun: int | None = None  # mono of the first closing
        self.done_edges = 0
        self.closed_since: int | None = None
        self.must_open: int | None = None  # by a limit, whatever the edges say
        self.opened_at = now if circuit.kind == "line" else now - MINUTE
        self.given: list[Closing] = []  # closings of the last minute
        self.contacts: tuple[Contact, ...] = ()  # one a relay, once their senses are read
        self.interlocked: tuple[Contact, ...] = ()  # those that must be open before a closing

    def watch(self, now: int) -> None:
        """Its senses are read from now on."""
        assert self.begun is None, "senses are read before a play begins"
        relays = range(len(self.circuit.relays))
        self.contacts = tuple(Contact(self.circuit.name, relay, now) for relay in relays)
        if self.circuit.kind == "line":
            self.interlocked = self.contacts

    @property
    def earliest(self) -> int:
        """When the play may close a relay; beyond all its instants where a contact reads closed."""
        assert self.play is not None
        opened = self.opened_at
        for contact in self.interlocked:
            opened = max(opened, contact.open_since)
        return max(self.play.start_mono, opened + self.circuit.gap_ns)

    def next_instant(self) -> int | None:
        if self.play is None:
            return None
        if self.begun is None:
            return min(self.earliest, self.play.latest_mono + 1)
        edge = self.begun + self.play.edges[self.done_edges]
        return edge if self.must_open is None or edge < self.must_open else self.must_open

    def limit(self, since: int, until: int) -> int | None:
        """Where a closing from `since` to `until` must end, if before."""
        longest = self.circuit.longest_ns
        if not self.circuit.a_minute_ns:  # a line: each impulse stands alone
            return since + longest if since + longest < until else None
        a_minute = self.circuit.a_minute_ns + EDGE_SLACK_NS
        excess = first_excess([(since, until)], self.given, longest, a_minute)
        return None if excess is None else excess[0]


class HandRules:
    """All circuits of one hand. Methods take `now` (mono, ns), which never goes back but for
    `sensed`, where it is the instant of the edge.
    """

    def __init__(self, hand: str, circuits: Iterable[Circuit], now: int) -> None:
        """`hand` is this hand's own name: plays made for another are refused."""
        self.hand = hand
        self._desks = {circuit.name: _Desk(circuit, now) for circuit in circuits}
        self._by_play: dict[int, _Desk] = {}
        self._quiet: frozenset[str] = frozenset()
        self._contacts: list[Contact] = []  # all whose senses are read

    @property
    def idle(self) -> bool:
        """Whether nothing is to be played and no contact to be judged."""
        return not (self._by_play or self._contacts)

    def next_instant(self) -> int | None:
        """When `advance` has something to do next; None while all is at rest."""
        first = None
        for desk in self._by_play.values():
            instant = desk.next_instant()
            if first is None or (instant is not None and instant < first):
                first = instant
        for contact in self._contacts:
            due = contact.due()
            if first is None or (due is not None and due < first):
                first = due
        return first

    def next_edge(self) -> int | None:
        """When a play does something next; None where a contact is to be judged by then.

        So `advance` may be called with this instant a moment before it: what is read meanwhile
        could not have changed what it does.
        """
        instants = [desk.next_instant() for desk in self._by_play.values()]
        edge = min((instant for instant in instants if instant is not None), default=None)
        dues = (contact.due() for contact in self._contacts)
        if edge is None or any(due is not None and due <= edge for due in dues):
            return None
        return edge

    def closed(self) -> list[Switch]:
        """The relays that are closed now."""
        return [
            Switch(desk.circuit.name, desk.play.relay, True)
            for desk in self._by_play.values()
            if desk.play is not None and desk.closed_since is not None
        ]

    def take(self, play: Play, now: int) -> Outcome | None:
        """Accept a play; or refuse it at once, where it can never begin here."""
        desk = self._desks.get(play.circuit)
        if (
            play.hand != self.hand
            or desk is None
            or desk.play is not None
            or not 0 <= play.relay < len(desk.circuit.relays)
            or not _lawful(play.edges, desk.circuit)
            or now > play.latest_mono
            or play.circuit in self._quiet
        ):
            return Outcome(play.id, "never_began", now, now)
        desk.play, desk.begun, desk.done_edges, desk.must_open = play, None, 0, None
        self._by_play[play.id] = desk
        return None

    def amend(self, amend: Amend, now: int) -> Amended:
        """Give a play other edges, if none of those already made would be another."""
        desk = self._by_play.get(amend.play)
        if desk is None or desk.play is None or not _lawful(amend.edges, desk.circuit):
            return Amended(amend.play, False)
        if desk.begun is not None:
            made = desk.done_edges
            passed = desk.play.edges[:made] == amend.edges[:made]
            if not passed or len(amend.edges) <= made or desk.begun + amend.edges[made] < now:
                return Amended(amend.play, False)
        desk.play = desk.play._replace(edges=amend.edges)
        if desk.closed_since is not None and desk.begun is not None:
            until = desk.begun + amend.edges[desk.done_edges]
            desk.must_open = desk.limit(desk.closed_since, until)
        return Amended(amend.play, True)

    def cancel(self, cancel: Cancel, now: int) -> tuple[list[Switch], list[Outcome]]:
        """Take a play back; one that has begun goes on, unless `stop` says to open it."""
        desk = self._by_play.get(cancel.play)
        if desk is None or (desk.begun is not None and not cancel.stop):
            return [], []
        return self._end(desk, "cut", now)

    def open_all(self, now: int) -> tuple[list[Switch], list[Outcome]]:
        """Open every relay and end every play."""
        return self._end_all(list(self._by_play.values()), now)

    def stop(self, now: int) -> tuple[list[Switch], list[Outcome]]:
        """End what zones have begun. What has not begun there is the engine's; lines go on."""
        desks = self._by_play.values()
        begun = [d for d in desks if d.circuit.kind == "zone" and d.begun is not None]
        return self._end_all(begun, now)

    def quiet(self, circuits: frozenset[str], now: int) -> tuple[list[Switch], list[Outcome]]:
        """Let these circuits, and no others, be quiet: all ends there, and nothing begins."""
        self._quiet = circuits
        desks = self._by_play.values()
        return self._end_all([desk for desk in desks if desk.circuit.name in circuits], now)

    def sensed(self, circuit: str, relay: int, closed: bool, now: int) -> None:
        """A sense input shows the contact closed or open, since `now`.

        From the first reading on all senses of the circuit count as read, and as open until they
        say otherwise. A circuit whose senses nobody reads is judged by its coils alone.
        """
        desk = self._desks[circuit]
        assert desk.circuit.sense is not None, "a circuit that has senses"
        if not desk.contacts:
            desk.watch(now)
            self._contacts += desk.contacts
        desk.contacts[relay].read(closed, now)

    def opened(self, circuit: str, now: int) -> None:
        """The opening that was last said to be due was made by now: a line's `gap` runs from here,
        as between its decision and its making the process may have had to wait.
        """
        desk = self._desks[circuit]
        desk.opened_at = max(desk.opened_at, now)

    def found(self) -> list[ContactFault]:
        """What the senses showed to be wrong, or right again, since last asked."""
        return [fault for contact in self._contacts for fault in contact.found()]

    def advance(self, now: int) -> tuple[list[Switch], list[Outcome]]:
        """Do all that is due by `now`: openings first, so that nothing waits behind a closing.

        Tell of readings up to `now` first, for they are judged here too.
        """
        for contact in self._contacts:
            contact.judge(now)
        switches: list[Switch] = []
        outcomes: list[Outcome] = []
        due = [
            desk
            for desk in self._by_play.values()
            if (instant := desk.next_instant()) is not None and instant <= now
        ]
        for desk in sorted(due, key=lambda desk: desk.closed_since is None):
            made, ended = self._advance(desk, now)
            switches += made
            outcomes += ended
        return switches, outcomes

    def _advance(self, desk: _Desk, now: int) -> tuple[list[Switch], list[Outcome]]:
        play = desk.play
        assert play is not None
        if desk.begun is None:
            earliest = desk.earliest
            if max(now, earliest) > play.latest_mono:
                return self._end(desk, "never_began", now)
            if now < earliest:
                return [], []
            limit = desk.limit(now, now + play.edges[1])
            if limit is not None and limit <= now:
                return self._end(desk, "never_began", now)
            desk.begun = now
            if desk.contacts:
                desk.contacts[play.relay].begin_play()
        if desk.must_open is not None and desk.must_open <= now:
            return self._end(desk, "cut", now)
        # Edges missed by a hand that was stopped are passed over: what counts is the state now.
        passed = desk.done_edges
        while passed < len(play.edges) and desk.begun + play.edges[passed] <= now:
            passed += 1
        desk.done_edges = passed
        if passed == len(play.edges):
            return self._end(desk, "done", now)
        want_closed = passed % 2 == 1
        if not want_closed:
            return ([] if desk.closed_since is None else [self._open(desk, now)]), []
        if desk.closed_since is not None:
            # Strokes that ran together while the hand was stopped are one closing.
            desk.must_open = desk.limit(desk.closed_since, desk.begun + play.edges[passed])
            late = desk.must_open is not None and desk.must_open <= now
            return self._end(desk, "cut", now) if late else ([], [])
        limit = desk.limit(now, desk.begun + play.edges[passed])
        if limit is not None and limit <= now:
            return self._end(desk, "cut", now)
        assert self._may_close(desk, now), "interlock: a relay of this circuit has not rested"
        desk.closed_since, desk.must_open = now, limit
        if desk.contacts:
            desk.contacts[play.relay].order(True, now)
        return [Switch(desk.circuit.name, play.relay, True)], []

    def _may_close(self, desk: _Desk, now: int) -> bool:
        return desk.closed_since is None and now >= desk.earliest

    def _open(self, desk: _Desk, now: int) -> Switch:
        assert desk.play is not None
        assert desk.closed_since is not None
        if now > desk.closed_since:
            desk.given = [c for c in desk.given if c[1] > now - MINUTE]
            desk.given.append((desk.closed_since, now))
        desk.closed_since, desk.must_open, desk.opened_at = None, None, now
        if desk.contacts:
            desk.contacts[desk.play.relay].order(False, now)
        return Switch(desk.circuit.name, desk.play.relay, False)

    def _end_all(self, desks: list[_Desk], now: int) -> tuple[list[Switch], list[Outcome]]:
        switches: list[Switch] = []
        outcomes: list[Outcome] = []
        for desk in desks:
            opened, ended = self._end(desk, "cut", now)
            switches += opened
            outcomes += ended
        return switches, outcomes

    def _end(self, desk: _Desk, how: str, now: int) -> tuple[list[Switch], list[Outcome]]:
        play, begun = desk.play, desk.begun
        assert play is not None
        switches = [] if desk.closed_since is None else [self._open(desk, now)]
        del self._by_play[play.id]
        desk.play, desk.begun = None, None
        if begun is None:
            return switches, [Outcome(play.id, "never_began", now, now)]
        if desk.contacts and desk.contacts[play.relay].never_closed:
            return switches, [Outcome(play.id, "cut", begun, begun)]
        if desk.contacts and desk.circuit.kind == "line":
            lasted = desk.contacts[play.relay].lasted_ns
            if lasted < WHOLE_IMPULSE * (now - begun):
                return switches, [Outcome(play.id, "cut", begun, now)]
        return switches, [Outcome(play.id, "cut" if how == "cut" else "done", begun, now)]


def _lawful(edges: tuple[int, ...], circuit: Circuit) -> bool:
    """Close first, open last, strictly rising, not endless; on a line a single impulse."""
    return (
        2 <= len(edges) <= (_MOST_EDGES if circuit.kind == "zone" else 2)
        and len(edges) % 2 == 0
        and edges[0] == 0
        and all(a < b for a, b in pairwise(edges))
    )
