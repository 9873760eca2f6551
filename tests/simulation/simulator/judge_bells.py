"""What must and must not be of a bell zone, judged at every closing and opening of its relay.

Rules 4 to 10 and 15 of the design, read anew: a closing belongs to rings that the file has at that
date and time, or that somebody rang by hand; it begins within grace of the clock and not before it,
once, and lasts no longer than the limits allow.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from simulator import excuses, judge_truth
from simulator.words import HOUR, MILLISECOND, MINUTE, SECOND, Violation

from controller.engine.contract import Play
from controller.engine.records import SoundingRow

if TYPE_CHECKING:
    from simulator.judge import Judge
    from simulator.program import Due, ZoneRules

EDGE_NS = 2 * MILLISECOND
MINUTE_SLACK_NS = 20 * MILLISECOND  # edges made a little late, as the hand has it too
TOLD_NS = 60 * MILLISECOND
PUNCTUAL_NS = 60 * MILLISECOND
ERA_NS = 26 * HOUR


class SoundingWatch:
    """A sounding that was decided."""

    def __init__(self, play: int, zone: str) -> None:
        self.play = play
        self.zone = zone
        self.row: SoundingRow | None = None
        self.starts: dict[str, tuple[Due, int]] = {}  # as written → the ring, mono of its start
        self.first: int | None = None  # mono of the first closing
        self.closings: list[tuple[int, int]] = []  # mono
        self.rows: list[tuple[tuple[int, ...], tuple[str, ...]]] = []  # edges, rings as written
        self.batches: dict[str, int] = {}  # as written → the batch with which it came
        self.stuck = False  # its contact does not close
        self.decided = 0  # outside

    def heard(self, play: Play) -> list[tuple[Due, int]]:
        """Its rings by the edges that the hand has: an amendment may not have reached it."""
        heard = (its for edges, its in reversed(self.rows) if edges == play.edges)
        rings = next(heard, self.rows[0][1])
        return [self.starts[written] for written in rings if written in self.starts]


class ZoneWatch:
    def __init__(self, judge: Judge, name: str, rules: ZoneRules) -> None:
        self.judge = judge
        self.world = judge.world
        self.name = name
        self.circuit = f"zones.{name}"
        self.rules = rules
        self.since: int | None = None
        self.minute: deque[tuple[int, int]] = deque()  # closings, outside, without what is excused
        self.quiet_until = 0  # utc
        self.must_open_by: int | None = None  # somebody stopped it
        self.last_closed = -(1 << 60)

    # ── what was decided ─────────────────────────────────────────────────────────────────────

    def decided(self, watch: SoundingWatch, row: SoundingRow, batch: int) -> None:
        """A sounding is to begin, or becomes another."""
        world, judge = self.world, self.judge
        watch.row = row
        watch.decided = watch.decided or world.t
        watch.rows.append((row.edges, row.rings))
        for written in row.rings:
            if written in watch.starts:
                continue
            ring = judge.program.ring(self.name, written, judge.follow)
            if ring is None:
                self._wrong("only what the file has is rung", f"{written} is not due")
            if (self.name, written) in judge.barred:
                self._wrong("what a new file has for the past is not rung", written)
            start = max(row.start_mono, world.mono + ring.due - world.utc)
            watch.starts[written] = ring, start
            watch.batches[written] = batch
        if len(watch.rows) == 1 and not row.rings and not row.by:
            self._wrong("every sounding is somebody's", f"{row}")
        if row.by:
            for who in row.by.split(" / "):
                if not judge.rang_by_hand(who, self.name):
                    self._wrong("by hand only where somebody rang", f"{row}")

    # ── its relay ────────────────────────────────────────────────────────────────────────────

    def closes(self, play: Play | None) -> None:
        judge, t = self.judge, self.world.t
        if self.name in judge.switched_quiet():
            self._wrong("no ring where the panel's switch is at quiet", "somebody may be at it")
        watch = None if play is None else judge.soundings.get(play.id)
        if watch is None or watch.row is None or play is None:
            self._wrong("every closing is known", "nobody decided this one")
        if watch.first is None:
            watch.first = self.world.mono
            self._begins(watch, play)
        watch.stuck |= self.world.parts.relays[self.circuit][0].mode == "stuck"
        self.since = t
        judge_truth.within_supply(judge)

    def _begins(self, watch: SoundingWatch, play: Play) -> None:
        judge, world = self.judge, self.world
        if judge.no_supply_for(TOLD_NS) and not judge.deaf():
            self._wrong("no ring is begun without the 24 V", f"{watch.row}")
        now = world.mono + EDGE_NS
        begun = [ring for ring, start in watch.heard(play) if start <= now]
        if not begun:
            return
        for ring in begun:
            self._stored(watch, ring.written)
        first = min(begun, key=lambda ring: ring.due)
        if judge.just_stepped():
            return
        if not judge.is_trusted():
            self._wrong("no ring by a clock that nobody trusts", f"{watch.row}")
        if judge.behind_fence(first.due):
            self._wrong("what was due before the start is never rung", f"{watch.row}")
        if self.quiet_until > first.due and self.quiet_until > world.utc:
            self._wrong("an order quiet silences", f"{watch.row}")
        late = world.utc - first.due
        if watch.row.by and late < 0:
            return
        if not -EDGE_NS <= late <= judge.program.grace + PUNCTUAL_NS + world.late_margin_ns:
            self._wrong("within grace, and not before", f"{late / SECOND:.3f} s late: {watch.row}")
        if late > PUNCTUAL_NS and not excuses.for_lateness(judge, self, first, late):
            self._wrong("in time unless something is the matter", f"{late / SECOND:.3f} s late")

    def _stored(self, watch: SoundingWatch, written: str) -> None:
        """A ring of the timetable was stored, or could not be, before it is given."""
        row = self.world.disk.rows.get(("sounding", str(watch.play)))
        if row is not None and written in row.rings:
            return
        if watch.batches[written] not in self.judge.not_stored:
            self._wrong("stored before it is given", f"{written}: {watch.row}")
        self.judge.unstored_rings.add((self.name, written))

    def opens(self) -> None:
        judge, t = self.judge, self.world.t
        if self.since is None:
            self._wrong("a relay that closed", "it opens and was not closed")
        away = judge.hand_away(self.since, t)
        late = self.world.late_margin_ns
        if t - self.since - away > self.rules.longest + EDGE_NS + late:
            self._wrong("no closing beyond `longest`", f"{(t - self.since) / SECOND:.3f} s")
        self.minute.append((self.since, t - away))
        while self.minute and self.minute[0][1] <= t - MINUTE:
            self.minute.popleft()
        total = sum(b - max(a, t - MINUTE) for a, b in self.minute)
        if total > self.rules.a_minute + MINUTE_SLACK_NS + late * len(self.minute):
            self._wrong("not beyond `a_minute`", f"{total / SECOND:.3f} s: {[*self.minute]}")
        hand = self.world.hand
        play = None if hand is None else hand.plays.get(self.circuit)
        watch = None if play is None else judge.soundings.get(play.id)
        if watch is not None:
            zero = self.world.clock.mono_zero
            watch.closings.append((self.since - zero, t - zero))
        self.since, self.last_closed = None, t

    # ── its end ──────────────────────────────────────────────────────────────────────────────

    def ended(self, watch: SoundingWatch, play: Play, how: str) -> None:
        """The play is over: which of its rings has the bell given?"""
        if watch.first is None:
            return
        rings = []
        late = max(0, watch.first - play.start_mono)
        for ring, start in watch.heard(play):
            if any(until > start + late for _, until in watch.closings):
                rings.append(ring.written)
                self._given(ring.written, ring)
                if watch.stuck:
                    self.judge.stuck_rings.add((self.name, ring.written))

        self.judge.played[watch.play] = watch.closings, rings
        judge_truth.sounded_as_written(self.judge, watch, play, how)

    def _given(self, written: str, ring: Due) -> None:
        identity = self.name, written
        before = self.judge.given.setdefault(identity, [])
        if before:
            again = self.judge.set_back_before(ring.due - ERA_NS, since=before[-1])
            if not again and not self.judge.ledger.lost_since(before[-1]):
                self._wrong("no ring twice", written)
        before.append(self.world.t)

    def still_silent(self) -> bool:
        return self.since is None

    def _wrong(self, rule: str, says: str) -> None:
        raise Violation(rule, f"{self.name}: {says}")
