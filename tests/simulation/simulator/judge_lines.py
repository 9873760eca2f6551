"""What must and must not be of a line of dials, judged at every closing and opening of its relays.

Rules 11 to 15 of the design, read anew: what is given was stored, is due, differs in polarity from
the one before (or gives it again with good reason), rests for its gap, lasts no longer than it may,
and is not given while the line is held, unread or without the 24 V.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.words import MILLISECOND, SECOND, Violation

from controller.engine.contract import Play
from controller.engine.records import LineRow

if TYPE_CHECKING:
    from simulator.judge import Judge
    from simulator.program import LineRules, Program

SLACK_NS = 2 * MILLISECOND
TOLD_NS = 60 * MILLISECOND  # word of the 24 V has to travel


class LineWatch:
    def __init__(self, judge: Judge, name: str, rules: LineRules) -> None:
        self.judge = judge
        self.world = judge.world
        self.name = name
        self.circuit = f"lines.{name}"
        self.rules = rules
        self.opened = -(1 << 60)  # when a relay of it last opened
        self.closed: int | None = None  # which relay is closed
        self.since = 0
        self.last: int | None = None  # the polarity (relay) that was given last
        self.question = True  # whether the last impulse may have to be given again
        self.held = False
        self.unread = False
        self.exempt = False  # impulses were given that could not be stored, and the power went
        self.offset = 0  # impulses that somebody asked for to correct dials
        self.unstored = 0  # given since storing failed
        self.impulses = 0
        self.stepping = False
        self.stuck = False  # its contact did not close, at first
        self.taken: int | None = None  # the polarity that was given whole last

    # ── a relay closes ───────────────────────────────────────────────────────────────────────

    def closes(self, relay: int, play: Play | None) -> None:
        world, t = self.world, self.world.t
        if self.closed is not None:
            self._wrong("no pair", "both relays are told to close")
        if t - self.opened < self.rules.gap:
            rest = (t - self.opened) / SECOND
            self._wrong("the rest after an impulse", f"{rest:.3f} s")
        if any(one.contact for one in world.parts.relays[self.circuit]) and self.rules.sensed:
            self._wrong("no pair", "it is told to close while a contact reads closed")
        row = None if play is None else self.judge.line_claims.get(play.id)
        if row is None or row.step is None or play is None:
            self._wrong("every impulse is known", "nobody decided this one")
        else:
            self._stored(row, play)
            self._may(row)
            self._polarity(row, relay)
        self.closed, self.since = relay, t
        self.stuck = world.parts.relays[self.circuit][relay].mode == "stuck"
        self.stepping = row is not None and row.step is not None and not row.step.counts

    def _stored(self, row: LineRow, play: Play) -> None:
        stored = self.world.disk.rows.get(("line", self.name))
        if stored is not None and stored.step is not None and stored.step.play == play.id:
            return
        if not self.judge.said_not_stored(play.id):
            self._wrong("stored before it is given", f"{row}")
        self.unstored += 1

    def _may(self, row: LineRow) -> None:
        step, judge = row.step, self.judge
        if self.held:
            self._wrong("a held line gives nothing", f"{row}")
        if judge.no_supply_for(TOLD_NS) and not judge.deaf():
            self._wrong("a line stands without the 24 V", f"{row}")
        if step.again or not step.counts or row.target >= 0:
            return
        if self.unread or not row.read:
            self._wrong("an unread line stands", f"{row}")
        if judge.just_stepped():
            return
        if not judge.is_trusted():
            self._wrong("no impulse by a clock that nobody trusts", f"{row}")
        program: Program = judge.program
        if not program.to_be_driven(self.rules, row.shown, self.world.utc):
            true = program.true(self.rules, self.world.utc)
            self._wrong("never before it is due", f"shown {row.shown}, true {true}")

    def _polarity(self, row: LineRow, relay: int) -> None:
        if not self.rules.alternating:
            return
        if (row.step.polarity == "-") != (relay == 1):
            self._wrong("the polarity that was stored is given", f"{row}")
        if relay == self.last and not (self.question or self.exempt):
            self._wrong("impulses differ in polarity", f"{'+-'[relay]} twice: {row}")

    # ── a relay opens ────────────────────────────────────────────────────────────────────────

    def opens(self, relay: int) -> None:
        t = self.world.t
        if self.closed != relay:
            self._wrong("a relay that closed", f"relay {relay} opens and was not closed")
        lasted = t - self.since
        excused = self.judge.hand_away(self.since, t) + self.world.late_margin_ns
        if lasted > self.rules.impulse + SLACK_NS + excused:
            self._wrong("no longer than an impulse", f"{lasted / SECOND:.3f} s")
        whole = lasted >= self.rules.impulse - SLACK_NS - self.world.late_margin_ns
        contact = self.world.parts.relays[self.circuit][relay]
        supplied = self.judge.supplied_since(self.since)
        healthy = contact.mode != "stuck" and not self.stuck
        self.question = not (whole and supplied and healthy)
        self.last = relay
        self.closed, self.opened = None, t
        self.impulses += 1
        if self.stepping and whole and not (self.rules.alternating and relay == self.taken):
            self.offset += 1
        if whole:
            self.taken = relay

    # ── what else is known ───────────────────────────────────────────────────────────────────

    def starts_with(self, row: LineRow | None) -> None:
        """The daemon starts, and this is what it knows."""
        self.unread = row is None or not row.read
        if row is None or row.step is not None:
            self.question = True

    def wires_exchanged(self) -> None:
        """What the dials took last is what the other relay gives now."""
        self.last = None if self.last is None else 1 - self.last
        self.taken = None if self.taken is None else 1 - self.taken

    def look(self) -> tuple[list[int], list[int]]:
        return self.world.parts.dials[self.circuit].look(self.world.t)

    def true(self) -> int:
        true = self.judge.program.true(self.rules, self.world.utc)
        return (true + self.offset) % self.rules.positions

    def right(self) -> bool:
        return set(self.look()[0]) == {self.true()}

    def _wrong(self, rule: str, says: str) -> None:
        raise Violation(rule, f"{self.name}: {says}")
