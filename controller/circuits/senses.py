"""What a relay's contact does, by its sense input, held against what its coil is told. Without I/O.

An order is a coil's being energised or let go. A contact *follows* when, for the first time since
the order, it reads as ordered; it *parts* when it then reads otherwise again. With N =
RELAY_NEEDS_NS, and for the kinds of `ContactFault`:

    order         it reads                                             begins
    closed        open, for N since the order or since it parted       stuck
    open          closed, for N since the order, since it parted,      welded
                  or since it was claimed
    either        as ordered, N to SLOW_NS after the order             slow (stuck, welded end)
    either        otherwise, having parted more than SETTLES_NS after  bouncing
                  it followed, for less than N: then it is back, or
                  another order comes

- stuck ends when a closing is followed within SLOW_NS of its order. What comes back in the middle
  of a closing has followed no order: one that let go for N stays stuck until the next closing.
- welded ends whenever it reads open.
- slow and bouncing end with a clean operation: a closing and the opening after it, both followed
  within N, in which nothing began. It is judged N after the opening, or at the next closing.
- Within SETTLES_NS of following a contact may bounce as it likes.
- An order that is taken back before N has passed is no fault of the contact's.

Readings carry the instant of their edge; one from before the order counts as from the order.
"""

from __future__ import annotations

from controller.engine.contract import ContactFault, ContactKind

MILLISECOND = 1_000_000
# Pull-in or drop-out of a small relay, a diode across its coil included, with room to spare: common
# practice, no source.
RELAY_NEEDS_NS = 100 * MILLISECOND
SETTLES_NS = 20 * MILLISECOND  # of bouncing after it first follows: common practice, no source
SLOW_NS = 1_000 * MILLISECOND  # what follows later still was stuck or welded: a choice
LEAST_CLOSING_NS = 30 * MILLISECOND  # a coil energised for less need not close a contact: a choice
NEVER = 1 << 62


class Contact:
    """One relay's contact. It counts as open, and as having followed, until it is read."""

    def __init__(self, circuit: str, relay: int, now: int) -> None:
        self.circuit = circuit
        self.relay = relay
        self.reads = False
        self.open_since = 0  # since it last read closed, if ever; NEVER while it does
        self._ordered = False
        self._since = now  # of the order
        self._followed: int | None = now  # when it first did as ordered
        self._parted: int | None = None  # since when it reads otherwise than ordered
        self._clean = False  # an operation is under way in which nothing began
        self._lasting: set[ContactKind] = set()
        self._found: list[ContactFault] = []
        self._seen = False  # it read closed in this play
        self._tried = False  # this play closed it for long enough
        self.lasted_ns = 0  # how long it read closed in the last closing that was ordered

    def found(self) -> list[ContactFault]:
        """What began or ended since last asked, in order."""
        found, self._found = self._found, []
        return found

    def due(self) -> int | None:
        """When `judge` has something to say; None where only a reading or an order can tell."""
        if self._parted is not None:
            return None if self._against in self._lasting else self._parted + RELAY_NEEDS_NS
        if self._clean and self._lasting and not self._ordered:
            return self._since + RELAY_NEEDS_NS
        return None

    def judge(self, now: int) -> None:
        """Say what has lasted for too long by `now`, or what is well again."""
        due = self.due()
        if due is None or now < due:
            return
        if self._parted is not None:
            self._begin(self._against)
        else:
            self._end_operation()

    def begin_play(self) -> None:
        """A play of this relay begins: has its contact been closed when it ends?"""
        self._seen, self._tried = self.reads, False

    @property
    def never_closed(self) -> bool:
        """Whether this play ordered it closed for long enough, and it never read closed."""
        return self._tried and not self._seen

    def order(self, closed: bool, now: int) -> None:
        """Its coil is energised, or let go."""
        self.judge(now - 1)
        self._note_bounce()
        if closed:
            self._end_operation()
        else:
            if now >= self._since + LEAST_CLOSING_NS:
                self._tried = True
            until = now if self._parted is None else self._parted
            self.lasted_ns = 0 if self._followed is None else until - self._followed
        self._ordered, self._since = closed, now
        self._followed, self._parted = None, now
        if self.reads == closed:
            self._follow(now)

    def read(self, closed: bool, at: int) -> None:
        """Its sense input shows it closed or open, since `at`."""
        if closed == self.reads:
            return
        at = max(at, self._since)
        self.judge(at - 1)
        self.reads = closed
        self.open_since = NEVER if closed else at
        if closed:
            self._seen = True
        if closed != self._ordered:
            self._parted = at
        elif self._followed is None:
            self._follow(at)
        else:
            self._note_bounce()
            self._parted = None
        if not closed:
            self._end("welded")

    @property
    def _against(self) -> ContactKind:
        """What it is to read otherwise than ordered, and for long."""
        return "stuck" if self._ordered else "welded"

    def _follow(self, at: int) -> None:
        """It does as ordered, for the first time since."""
        self._followed, self._parted = at, None
        took = at - self._since
        if took <= SLOW_NS:
            self._end(self._against)
        if RELAY_NEEDS_NS < took <= SLOW_NS:
            self._begin("slow")
        if self._ordered:
            self._clean = took <= RELAY_NEEDS_NS
        elif took > RELAY_NEEDS_NS:
            self._clean = False

    def _note_bounce(self) -> None:
        """A parting is over that was too short to be more than a bounce, if it came late."""
        if (
            self._followed is not None
            and self._parted is not None
            and self._parted > self._followed + SETTLES_NS
            and self._against not in self._lasting
        ):
            self._begin("bouncing")

    def _end_operation(self) -> None:
        """A closing and its opening are over; where they were clean, the relay is well."""
        if self._clean and self._parted is None and not self._ordered:
            self._end("slow")
            self._end("bouncing")
        self._clean = False

    def _begin(self, kind: ContactKind) -> None:
        self._clean = False
        if kind not in self._lasting:
            self._lasting.add(kind)
            self._found.append(ContactFault(self.circuit, self.relay, kind, True))

    def _end(self, kind: ContactKind) -> None:
        if kind in self._lasting:
            self._lasting.remove(kind)
            self._found.append(ContactFault(self.circuit, self.relay, kind, False))
