"""Moments: what is going on when a fault strikes, and faults that wait for one.

A fault that waits strikes at the next such moment, or after ten minutes (five hours, where it waits
for a ring) all the same. What was
going on is looked up as it strikes, and counted: the table of fault × moment.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import words
from simulator.kinds import FAULTS, strike
from simulator.words import HOUR, MINUTE, SECOND, Fault

if TYPE_CHECKING:
    from simulator.world import World

PATIENCE_NS = 10 * MINUTE
RING_PATIENCE_NS = 5 * HOUR  # rings are rarer than impulses
NAMES = (
    "at rest",
    "impulse stored",
    "in an impulse",
    "after an impulse",
    "catching up",
    "waiting",
    "ring stored",
    "ringing",
    "commit under way",
    "storing fails",
    "not trusted",
    "24 V away",
    "contact ails",
    "just started",
    "down",
    "clock change",
    "minute after another",
)
WAITED_FOR = (
    "impulse stored",
    "in an impulse",
    "after an impulse",
    "catching up",
    "ring stored",
    "ringing",
    "commit under way",
)


class Moments:
    def __init__(self, world: World) -> None:
        self.world = world
        self.armed: list[Fault] = []
        self.struck: list[tuple[str, tuple[str, ...]]] = []
        self.last: int | None = None  # outside, when the last fault struck

    def arm(self, fault: Fault) -> None:
        """It strikes now, or at the moment that it waits for."""
        if not fault.moment:
            self.strike(fault)
            return
        self.armed.append(fault)
        patience = RING_PATIENCE_NS if "ring" in fault.moment.split()[0] else PATIENCE_NS
        self.world.plan(self.world.t + patience, lambda: self._waited(fault))

    def _waited(self, fault: Fault) -> None:
        if fault in self.armed:
            self.armed.remove(fault)
            self.strike(fault)

    def comes(self, moment: str, lasts: int) -> None:
        """Such a moment begins, and lasts so long."""
        for fault in [one for one in self.armed if one.moment == moment]:
            self.armed.remove(fault)
            at = self.world.t + int(lasts * fault.fraction)
            self.world.plan(at, lambda fault=fault: self.strike(fault))

    def strike(self, fault: Fault) -> None:
        if fault.kind in FAULTS:
            self.struck.append((fault.kind, self.now()))
            self.last = self.world.t
        strike(self.world, fault.kind, fault.how)

    # ── what is going on ─────────────────────────────────────────────────────────────────────

    def now(self) -> tuple[str, ...]:
        """All that is going on."""
        found = [*self._dials(), *self._bells(), *self._around()]
        return tuple(found) or ("at rest",)

    def _dials(self) -> list[str]:
        world, found = self.world, []
        plays = {} if world.hand is None else world.hand.plays
        for name, line in world.judge.lines.items():
            if line.closed is not None:
                found.append("in an impulse")
            elif f"lines.{name}" in plays:
                found.append("impulse stored")
            elif world.t - line.opened < line.rules.gap:
                found.append("after an impulse")
            found += self._pace(name)
        return [*dict.fromkeys(found)]

    def _pace(self, name: str) -> list[str]:
        world, line = self.world, self.world.judge.lines[name]
        state = None if world.daemon is None else world.daemon.state.lines.get(name)
        if state is None or not state.row.read or state.row.held or not world.judge.trusted:
            return []
        true = world.judge.program.true(line.rules, world.utc)
        behind = (true - state.row.shown) % line.rules.positions
        if behind <= 2 or line.rules.positions - behind <= 1:
            return []
        driven = (line.rules.positions - behind) * line.rules.every > line.rules.patience
        return ["catching up"] if driven else ["waiting"]

    def _bells(self) -> list[str]:
        world = self.world
        plays = {} if world.hand is None else world.hand.plays
        found = []
        for name, zone in world.judge.zones.items():
            if zone.since is not None:
                found.append("ringing")
            elif f"zones.{name}" in plays:
                found.append("ring stored")
        return [*dict.fromkeys(found)]

    def _around(self) -> list[str]:
        world, t = self.world, self.world.t
        found = []
        if world.journal is not None and world.journal.queue:
            found.append("commit under way")
        if world.journal is not None and world.journal.mirrors:
            found.append("storing fails")
        if not world.judge.trusted:
            found.append("not trusted")
        if world.touched(t, t, words.SUPPLY) and not world.parts.supply:
            found.append("24 V away")
        if world.touched(t, t, words.CONTACT):
            found.append("contact ails")
        if world.daemon is None:
            found.append("down")
        elif t - world.daemon.started < 10 * SECOND:
            found.append("just started")
        program = world.judge.program
        if program.offset(world.utc - 2 * HOUR) != program.offset(world.utc + 2 * HOUR):
            found.append("clock change")
        if self.last is not None and t - self.last < MINUTE:
            found.append("minute after another")
        return found
