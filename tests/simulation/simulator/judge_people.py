"""What people asked for, and whether it was done: orders, the panel, a person's word.

An order that was answered outlasts everything but a store that could not be written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.words import DAY, FAR, MILLISECOND, MINUTE, Violation

from controller.engine import contract, wishes
from controller.engine.contract import Answer, Decision, Input
from controller.engine.records import FollowRow, LineRow, QuietRow, Record

if TYPE_CHECKING:
    from simulator.judge import Judge

OPENS_WITHIN = 100 * MILLISECOND
PANEL = "panel."


class PeopleWatch:
    def __init__(self, judge: Judge) -> None:
        self.judge = judge
        self.world = judge.world
        self.given: Input | None = None
        self.follow: dict[str, str] = {}
        self.ever_followed: set[str] = set()
        self.open_orders: dict[int, object] = {}  # taken, and not answered yet
        self.asked: dict[int, object] = {}
        self.by_hand: list[tuple[str, str, int]] = []  # who, zone, outside
        self.silent: frozenset[str] = frozenset()  # zones whose switch is at quiet
        self.switches: list[list] = []  # [zones, since, until]
        self.quiets: list[tuple[str, int, int, int]] = []  # zone, until utc, outside, utc then
        self.stops: list[tuple[str, int]] = []  # zone, outside
        self.taken_at = -(1 << 60)  # outside: the last order
        self.uncertain = True  # what the store has may differ from what was answered

    # ── orders ───────────────────────────────────────────────────────────────────────────────

    def ordered(self, number: int, what: object, who: str) -> None:
        self.asked[number] = what
        if isinstance(what, wishes.RingByHand):
            self.by_hand += [(who, zone, self.world.t) for zone in what.zones]

    def decided(self, decision: Decision) -> None:
        """One step of the engine has taken `given`."""
        given = self.given
        if given.__class__ is not contract.Order:
            return
        refused = [one for one in decision.answers_at_once if not one.ok and one.order == given.id]
        if refused:
            return
        self.open_orders[given.id] = given.what
        self.taken_at = self.world.t
        self._taken(given.what)
        for answer in decision.answers_at_once:
            self.open_orders.pop(answer.order, None)

    def _taken(self, what: object) -> None:
        judge, world = self.judge, self.world
        match what:
            case wishes.QuietZones(zones, until):
                for zone in zones:
                    judge.zones[zone].quiet_until = until
                    self.quiets.append((zone, until, world.t, world.utc))
                    if until:
                        self._must_open(zone)
            case wishes.StopAll():
                for zone in judge.zones:
                    self._must_open(zone)
            case wishes.Follow(day, plan):
                self.follow.pop(day.isoformat(), None)
                self.ever_followed.add(day.isoformat())
                if plan != "usual":
                    self.follow[day.isoformat()] = plan
            case wishes.GoLine(line) | wishes.DriveLine(line, _):
                judge.lines[line].held = False
            case wishes.SetLine(line, _, _):
                watch = judge.lines[line]
                watch.held = watch.unread = watch.exempt = False
                watch.question, watch.offset = True, 0
            case wishes.LineMoved(line):
                judge.lines[line].unread = True
            case wishes.TrustClock():
                judge.taken_word()

    def answered(self, answer: Answer) -> None:
        what = self.open_orders.pop(answer.order, None)
        if isinstance(what, wishes.HoldLine) and answer.ok:
            later = (wishes.GoLine, wishes.SetLine, wishes.DriveLine)
            if not any(
                isinstance(w, later) and w.line == what.line for w in self.open_orders.values()
            ):
                self.judge.lines[what.line].held = "is held" in answer.text

    def _must_open(self, zone: str) -> None:
        """Whatever sounds there now is to end."""
        judge, world = self.judge, self.world
        watch, sounds = judge.zones[zone], judge.zones[zone].since
        self.stops.append((zone, world.t))
        if sounds is None:
            return

        def look() -> None:
            if watch.since == sounds and not judge.deaf():
                raise Violation("a stop opens the relay", f"{zone} sounds on")

        world.plan(world.t + OPENS_WITHIN + world.late_margin_ns, look)

    # ── the panel ────────────────────────────────────────────────────────────────────────────

    def panel_moved(self, name: str, closed: bool) -> None:
        entry = self.judge.program.panel.get(name)
        if entry is None:
            return
        zones = entry.get("zones", [])
        zones = [*self.judge.program.zones] if "*" in zones else zones
        if entry["does"] == "ring" and closed:
            self.by_hand += [(PANEL + name, zone, self.world.t) for zone in zones]
        elif entry["does"] == "quiet":
            self._switch(frozenset(zones), closed)
        self.taken_at = self.world.t
        if entry["does"] == "stop" and closed and self.judge.away_since is None:
            for zone in self.judge.zones:
                self._must_open(zone)

    def _switch(self, zones: frozenset[str], closed: bool) -> None:
        if closed:
            self.switches.append([zones, self.world.t, FAR])
            if self.judge.away_since is None:
                for zone in zones:
                    self._must_open(zone)
        else:
            for switch in self.switches:
                if switch[0] == zones:
                    switch[2] = min(switch[2], self.world.t)
        still = [one for one, _, until in self.switches if until == FAR]
        self.silent = frozenset(zone for one in still for zone in one)

    # ── what was asked lately ────────────────────────────────────────────────────────────────

    def rang(self, who: str, zone: str) -> bool:
        return (who, zone) in ((its, where) for its, where, _ in self.by_hand[-200:])

    def ordered_quiet(self, zone: str, due: int) -> bool:
        return any(its == zone and until > due for its, until, _, _ in self.quiets)

    def stopped_about(self, zone: str) -> bool:
        since = self.world.t - 2 * MINUTE
        return any(its == zone and at >= since for its, at in self.stops)

    def switch_about(self, zone: str) -> bool:
        since = self.world.t - 10 * MINUTE
        return any(zone in zones and until >= since for zones, _, until in self.switches)

    # ── after a crash ────────────────────────────────────────────────────────────────────────

    def forget(self) -> None:
        """The store is gone."""
        self.uncertain = True

    def power_goes(self, storing_failed: bool) -> None:
        self.uncertain = self.uncertain or storing_failed

    def daemon_gone(self) -> None:
        self.uncertain = self.uncertain or bool(self.open_orders)
        self.open_orders.clear()

    def daemon_starts(self, rows: dict[tuple[str, ...], Record]) -> None:
        """What the daemon knows after a stop is what it had answered."""
        today = self.judge.program.local(self.world.t).date().isoformat()
        follow = {r.day: r.plan for r in rows.values() if isinstance(r, FollowRow)}
        follow = {day: plan for day, plan in follow.items() if plan != "usual"}
        quiet = {r.zone: r.until for r in rows.values() if isinstance(r, QuietRow)}
        held = {r.line: r.held for r in rows.values() if isinstance(r, LineRow)}
        if not self.uncertain:
            self._same("a date follows a plan", self.follow, follow, lambda day: day >= today)
            mine = {name: zone.quiet_until for name, zone in self.judge.zones.items()}
            soon = self.world.t + 400 * DAY
            self._same("quiet", mine, quiet, lambda zone: 0 < mine.get(zone, 0) < soon)
            lines = {name: line.held for name, line in self.judge.lines.items()}
            self._same("a line is held", lines, held, lambda line: lines.get(line, False))
        self.follow = follow
        for name, zone in self.judge.zones.items():
            zone.quiet_until = quiet.get(name, 0)
        for name, line in self.judge.lines.items():
            line.held = held.get(name, False)
        self.uncertain = False

    def _same(self, what: str, answered: dict, stored: dict, whether) -> None:
        for key, value in answered.items():
            if whether(key) and stored.get(key) != value:
                says = f"{what}: {key} {value}, and the daemon starts with {stored.get(key)}"
                raise Violation("an order that was answered outlasts a stop", says)
