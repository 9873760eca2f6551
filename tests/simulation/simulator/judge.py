"""The judge: sees every relay move and every record, and knows what the world knows.

Its rules are written from the design, apart from the engine. Whatever must not be is a `Violation`
at the instant at which it is seen. Records count as what the controller claims of a closing; the
relays, the file and the clock decide whether the claim is true.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import excuses, judge_truth, words
from simulator.judge_bells import SoundingWatch, ZoneWatch
from simulator.judge_lines import LineWatch
from simulator.judge_people import PeopleWatch
from simulator.ledger import Ledger
from simulator.words import FAR, MILLISECOND, SECOND, Violation

from controller.engine.contract import Decision, Input, NewBuilding, Play
from controller.engine.records import LineRow, MissRow, Record, SoundingRow

if TYPE_CHECKING:
    from simulator.program import Program
    from simulator.world import World

NOTICED_NS = 1_100 * MILLISECOND  # a step of the clock, within a second
JUMP_NS = SECOND // 2


class Judge:
    def __init__(self, world: World) -> None:
        self.world = world
        self.program: Program = world.house.programs[0]
        self.zones: dict[str, ZoneWatch] = {}
        self.lines: dict[str, LineWatch] = {}
        self.people = PeopleWatch(self)
        self.line_claims: dict[int, LineRow] = {}  # by play
        self.soundings: dict[int, SoundingWatch] = {}
        self.played: dict[int, tuple[list[tuple[int, int]], list[str]]] = {}  # closings, rings
        self.at_once: set[int] = set()
        self.over: set[int] = set()  # plays that the hand has ended
        self.batch_of: dict[int, int] = {}  # play → the batch that it waits for
        self.not_stored: set[int] = set()  # batches that could not be stored, and this was said
        self.given: dict[tuple[str, str], list[int]] = {}  # identity → outside, when it was over
        self.barred: set[tuple[str, str]] = set()
        self.ledger = Ledger(self)
        self.settings: list[tuple[int, int, int]] = []  # outside, shift before and after
        self.trusted = False
        self.lost_trust: tuple[int, int] | None = None  # outside, and how the clock stood before
        self.untrusted_fact: list | None = None
        self.first_start: int | None = None  # outside: of a daemon in this boot
        self.fence: int | None = None  # utc
        self.away_since: int | None = None  # the hand is dead or hangs
        self.aways: list[tuple[int, int]] = []
        self.supply_moved = -(1 << 60)
        self.store_fact: list | None = None
        self.exempt_impulses = 0
        self.unstored_rings: set[tuple[str, str]] = set()
        self.stuck_rings: set[tuple[str, str]] = set()  # ordered, and their contact was stuck
        self.exempt_rings: set[tuple[str, str]] = set()
        self.down_fact: list | None = None
        self.programs_seen: list[Program] = []
        self.file_changed(world.house.programs[0])

    @property
    def follow(self) -> dict[str, str]:
        return self.people.follow

    # ── relays ───────────────────────────────────────────────────────────────────────────────

    def switched(self, circuit: str, relay: int, closed: bool, play: Play | None) -> None:
        self.world.trace.append((self.world.t, circuit, relay, closed))
        line = self.lines.get(circuit[6:]) if circuit[0] == "l" else None
        if line is not None:
            if closed:
                line.closes(relay, play)
            else:
                line.opens(relay)
            return
        zone = self.zones.get(circuit[6:])
        if zone is None:
            raise Violation("only circuits of the file", f"{circuit} is switched")
        if closed:
            zone.closes(play)
        else:
            zone.opens()

    def play_ended(self, play: Play, how: str) -> None:
        """By the hand's own word: done, cut or never_began; or "gone", with the hand itself."""
        self.over.add(play.id)
        self.batch_of.pop(play.id, None)
        self.line_claims.pop(play.id, None)
        self.at_once.discard(play.id)
        watch = self.soundings.pop(play.id, None)
        if how != "never_began" and watch is not None and watch.zone in self.zones:
            self.zones[watch.zone].ended(watch, play, how)

    # ── what the controller decides and stores ───────────────────────────────────────────────

    def input(self, given: Input) -> None:
        """What the engine is about to take."""
        self.people.given = given
        if given.__class__ is NewBuilding:
            number = self.world.house.buildings.index(given.building)
            self.file_changed(self.world.house.programs[number])

    def decided(self, decision: Decision) -> None:
        self.people.decided(decision)
        batch = decision.batch
        for record in decision.records:
            cls = record.__class__
            if cls is LineRow:
                if record.step is not None:
                    self.line_claims[record.step.play] = record
            elif cls is SoundingRow:
                self._sounding(record, batch)
            elif cls is MissRow:
                self._missed(record)
        for play in decision.plays:
            self.batch_of[play.id] = batch
        for play in decision.at_once:
            self.at_once.add(play.id)
            self.batch_of[play.id] = batch

    def _sounding(self, row: SoundingRow, batch: int) -> None:
        self.world.trace.append((self.world.t, "sounding", row.zone, row.how, row.rings, row.by))
        if row.how in ("done", "cut"):
            judge_truth.told_truly(self, row)
            self.played.pop(row.play, None)
        if row.how != "begun" or row.zone not in self.zones or row.play in self.over:
            return
        watch = self.soundings.get(row.play)
        if watch is None:
            watch = self.soundings[row.play] = SoundingWatch(row.play, row.zone)
        self.zones[row.zone].decided(watch, row, batch)

    def _missed(self, row: MissRow) -> None:
        self.world.trace.append((self.world.t, "missed", row.zone, row.written, row.why))
        if not row.why or row.zone not in self.zones:
            return
        ring = self.program.ring(row.zone, row.written, self.follow)
        if ring is None:
            if not self.world.touched(self.world.t - 60 * SECOND, self.world.t, words.FILE):
                raise Violation("only what was due is missed", f"{row}")
        elif not excuses.for_missing(self, self.zones[row.zone], ring, row.why):
            raise Violation("missed only with a cause", f"{row}")
        elif row.why in ("late", "off", "untrusted") and self._may_be_given(ring.due):
            raise Violation("missed only once its grace is over", f"{row}")

    def _may_be_given(self, due: int) -> bool:
        """Whether a ring may still begin: it is within its grace, and not behind the fence."""
        world = self.world
        if world.utc > due + self.program.grace or self.just_stepped():
            return False
        started = due if world.daemon is None else world.daemon.started + world.clock.shift
        return due >= started and not self.behind_fence(due)

    def said_not_stored(self, play: int) -> bool:
        return self.batch_of.get(play, 0) in self.not_stored

    def told_not_stored(self, batch: int) -> None:
        self.not_stored.add(batch)
        self.storing(well=False)

    def storing(self, *, well: bool) -> None:
        """Whether everything decided so far is stored, or is about to be."""
        if not well and self.store_fact is None:
            self.store_fact = self.world.begin(words.STORE, "fails")
        elif well and self.store_fact is not None:
            self.world.end(self.store_fact)
            self.store_fact = None

    def durable(self, records: tuple[Record, ...]) -> None:
        for record in records:
            cls = record.__class__
            if cls is LineRow:
                line = self.lines.get(record.line)
                if line is not None:
                    line.unstored = 0
            elif cls is SoundingRow:
                self.unstored_rings.difference_update((record.zone, one) for one in record.rings)
            self.ledger.keep(record)

    def store_lost(self) -> None:
        """It is damaged, and set aside."""
        self.ledger.lost()
        self.people.forget()

    # ── clock ────────────────────────────────────────────────────────────────────────────────

    def clock_set(self, before: int, after: int) -> None:
        self.settings.append((self.world.t, before, after))
        if self.lost_trust is not None and self._nobody_need_know(after):
            self._trust(True)
        elif abs(after - before) > JUMP_NS and not self.world.vouched():
            if self.trusted:
                self.lost_trust = self.world.t, before
            self._trust(False)
        if self.world.vouched():
            self._trust(True)

    def _nobody_need_know(self, shift: int) -> bool:
        """Whether the clock is back where it was trusted, before anybody need have noticed."""
        assert self.lost_trust is not None
        at, before = self.lost_trust
        return self.world.t - at < NOTICED_NS and abs(shift - before) <= JUMP_NS

    def boots(self) -> None:
        self.first_start = self.fence = None
        before = self.settings[-1][2] if self.settings else self.world.clock.shift
        self.settings.append((self.world.t, before, self.world.clock.shift))
        self._trust(False)
        self._trust(self.world.vouched())

    def _trust(self, trusted: bool) -> None:
        self.trusted = trusted
        if not trusted and self.untrusted_fact is None:
            self.untrusted_fact = self.world.begin(excuses.UNTRUSTED)
        elif trusted and self.untrusted_fact is not None:
            self.world.end(self.untrusted_fact)
            self.untrusted_fact = None
        if trusted and self.world.daemon is not None:
            self.ledger.begins_anew()
        if trusted and self.fence is None and self.first_start is not None:
            self.fence = self.first_start + self.world.clock.shift

    def is_trusted(self) -> bool:
        """Whether anybody has vouched for the clock as it stands; an RTC may begin to, in time."""
        if not self.trusted and self.world.vouched():
            self._trust(True)
        return self.trusted

    def taken_word(self) -> None:
        """A person has said that the clock is right."""
        self._trust(True)

    def behind_fence(self, due: int) -> bool:
        if self.fence is None or due >= self.fence - MILLISECOND:
            return False
        return not self.set_back_before(
            self.fence - 26 * 3600 * SECOND, since=self.first_start or 0
        )

    def set_back_before(self, utc: int, since: int) -> bool:
        """Whether the clock stood before `utc` at any time from `since` on."""
        if self.world.utc < utc:
            return True
        return any(at >= since and at + after < utc for at, _, after in self.settings)

    def just_stepped(self) -> bool:
        """Whether the clock was set so lately that nobody need have noticed."""
        daemon = self.world.daemon
        if daemon is not None and daemon.hung:
            return True
        late = NOTICED_NS + self.world.words_late_ns + self.world.late_margin_ns
        hung = self.world.touched(self.world.t - SECOND, self.world.t, words.SLOW)
        since = self.world.t - (5 * SECOND if hung else late)
        return any(at >= since and before != after for at, before, after in self.settings[-4:])

    # ── processes ────────────────────────────────────────────────────────────────────────────

    def daemon_starts(self, records: list[Record]) -> None:
        world = self.world
        if self.first_start is None:
            self.first_start = world.t
            if self.trusted:
                self.fence = world.t + world.clock.shift
        if self.down_fact is not None:
            world.end(self.down_fact)
            self.down_fact = None
        self.line_claims.clear()
        self.soundings.clear()
        self.played.clear()
        self.at_once.clear()
        self.batch_of.clear()
        self.over.clear()
        self.not_stored.clear()
        if self.trusted:
            self.ledger.begins_anew()
        newest = {record.key: record for record in records}
        self.file_changed(world.program)
        for name, line in self.lines.items():
            row = newest.get(("line", name))
            line.starts_with(row)
        self.people.daemon_starts(newest)

    def daemon_ends(self) -> None:
        """It is about to: from here on nothing new need be done."""
        if self.down_fact is None:
            self.down_fact = self.world.begin(words.DOWN)

    def daemon_gone(self) -> None:
        self.daemon_ends()
        self.people.daemon_gone()

    def hand_goes(self) -> None:
        """The hand hangs or is dead; its relays stay as they are."""
        if self.away_since is None:
            self.away_since = self.world.t

    def hand_released(self) -> None:
        if self.away_since is not None:
            self.aways.append((self.away_since, self.world.t))
            self.away_since = None

    def hand_away(self, since: int, until: int) -> int:
        """For how long between the two no hand was there to open anything."""
        spans = [*self.aways[-3:], (self.away_since, FAR)] if self.away_since else self.aways[-3:]
        return sum(max(0, min(until, b) - max(since, a)) for a, b in spans)

    def deaf(self) -> bool:
        """Whether word need not have reached engine and hand yet."""
        world = self.world
        if world.daemon is None or world.daemon.hung or self.away_since is not None:
            return True
        return world.touched(world.t - 4 * SECOND, world.t, words.SLOW, words.DOWN)

    def power_goes(self) -> None:
        """Whatever was given and could not be stored is lost."""
        for line in self.lines.values():
            if line.unstored:
                self.exempt_impulses += line.unstored
                line.unstored = 0
                line.exempt = True
                self.world.begin(words.EXEMPT, line.name)
        self.exempt_rings |= self.unstored_rings
        self.unstored_rings = set()
        self.people.power_goes(self.store_fact is not None)
        self.storing(well=True)
        self.down_fact = self.down_fact or self.world.begin(words.POWER)

    # ── the 24 V, the panel, the file ────────────────────────────────────────────────────────

    def supply_changes(self) -> None:
        self.supply_moved = self.world.t

    def supplied_since(self, since: int) -> bool:
        return self.world.parts.supply and self.supply_moved < since

    def no_supply_for(self, length: int) -> bool:
        """Whether the 24 V has been away for so long, and somebody can tell."""
        world = self.world
        if world.parts.supply or not self.program.supply_sensed:
            return False
        return world.t - self.supply_moved > length

    def file_changed(self, program: Program) -> None:
        """From here on this is what the file says."""
        world = self.world
        before, self.program = self.program, program
        if program not in self.programs_seen:
            self.programs_seen.append(program)
        if before is not program:
            world.end(world.begin(words.FILE))
            start = world.utc - 26 * 3600 * SECOND
            known = {(d.zone, d.written) for d in before.between(start, world.utc, self.follow)}
            new = {(d.zone, d.written) for d in program.between(start, world.utc, self.follow)}
            if world.powered:
                self.barred |= new - known - self.given.keys()
        for name, rules in program.zones.items():
            self.zones.setdefault(name, ZoneWatch(self, name, rules)).rules = rules
        for name, line in program.lines.items():
            self.lines.setdefault(name, LineWatch(self, name, line)).rules = line

    # ── short ways to the people ─────────────────────────────────────────────────────────────

    def ordered(self, number: int, what, who: str) -> None:
        self.people.ordered(number, what, who)
        judge_truth.will_be_answered(self, number, what, who)

    def answered(self, answer) -> None:
        self.people.answered(answer)

    def panel_moved(self, name: str, closed: bool) -> None:
        self.people.panel_moved(name, closed)

    def switched_quiet(self) -> frozenset[str]:
        return self.people.silent

    def rang_by_hand(self, who: str, zone: str) -> bool:
        return self.people.rang(who, zone)

    def ordered_quiet(self, zone: str, due: int) -> bool:
        return self.people.ordered_quiet(zone, due)

    def stopped_about(self, zone: str) -> bool:
        return self.people.stopped_about(zone)

    def switch_about(self, zone: str) -> bool:
        return self.people.switch_about(zone)
