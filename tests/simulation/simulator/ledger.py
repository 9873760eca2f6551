"""The logbook as it was ever durable, and from when to when it was lost with its store."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.words import DAY, FAR, MINUTE

from controller.engine.records import MissCount, MissRow, Record, SoundingRow

if TYPE_CHECKING:
    from simulator.judge import Judge

Identity = tuple[str, str]
_BEFORE_NS = 5 * MINUTE  # what was decided shortly before may not have been stored
_AFTER_NS = MINUTE


class Ledger:
    def __init__(self, judge: Judge) -> None:
        self.judge = judge
        self.rows: dict[tuple[str, ...], Record] = {}
        self.before: list[dict[tuple[str, ...], Record]] = []  # of stores that were lost
        self.losses: list[int] = []  # outside
        self.forgotten: set[Identity] = set()  # rings given before: a daemon cannot know of them
        self.spans: list[list[int]] = []  # right time: of what was due then nothing need be known

    def keep(self, record: Record) -> None:
        """It is durable."""
        if record.__class__ in (SoundingRow, MissRow, MissCount):
            self.rows[record.key] = record

    def lost(self) -> None:
        """The store is gone, or cannot be read; what it had said was true."""
        self.before.append(self.rows)
        self.rows = {}
        self.losses.append(self.judge.world.t)
        self.unread()

    def unread(self) -> None:
        """Until a daemon with a trusted clock begins anew, nothing need be known; nor of what was
        not yet due by a clock that was behind.
        """
        world = self.judge.world
        self.forgotten |= set(self.judge.given)
        behind = min(max(world.clock.truth - world.clock.shift, 0), DAY)
        self.spans.append([world.t + world.clock.truth - behind - _BEFORE_NS, FAR])

    def begins_anew(self) -> None:
        """A daemon runs, by a trusted clock, with a store that it can read."""
        world = self.judge.world
        if self.spans and self.spans[-1][1] == FAR and not world.disk.newer:
            self.spans[-1][1] = world.t + world.clock.truth + _AFTER_NS

    def need_not_know(self, due: int) -> bool:
        return any(a <= due <= b for a, b in self.spans)

    def lost_since(self, outside: int) -> bool:
        return any(at > outside for at in self.losses)

    # ── what it tells ────────────────────────────────────────────────────────────────────────

    def missed(self) -> set[Identity]:
        """Rings that were missed, in the store as it is."""
        return {(r.zone, r.written) for r in self.rows.values() if isinstance(r, MissRow) and r.why}

    def ever_missed(self) -> set[Identity]:
        rows = (row for ledger in (*self.before, self.rows) for row in ledger.values())
        return {(r.zone, r.written) for r in rows if isinstance(r, MissRow) and r.why}

    def ever_begun(self) -> set[Identity]:
        rows = (row for ledger in (*self.before, self.rows) for row in ledger.values())
        begun = (r for r in rows if isinstance(r, SoundingRow) and r.how != "void")
        return {(row.zone, written) for row in begun for written in row.rings}

    def counted(self) -> list[tuple[int, int]]:
        """Spans in which rings were missed and only counted."""
        rows = (row for ledger in (*self.before, self.rows) for row in ledger.values())
        return [(r.first_due, r.last_due) for r in rows if isinstance(r, MissCount)]
