"""The world: outside time, the machine and its processes, people, and what befalls them.

It moves time to whatever comes next. Nothing here decides anything about bells or dials.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappop, heappush

from simulator import words
from simulator.clock import Clock
from simulator.daemon import Daemon
from simulator.disk import Disk, Journal
from simulator.ends import FINISH
from simulator.hand import Hand
from simulator.house import House
from simulator.judge import Judge
from simulator.moments import Moments
from simulator.parts import Dials, Parts
from simulator.real import TIME
from simulator.words import FAR, SECOND, Violation, scattered

from controller.engine.contract import Answer, Order, Tick
from controller.engine.records import LineRow
from controller.engine.wishes import Wish


class World:
    def __init__(self, house: House, start: int, seed: int = 0, disk: Disk | None = None) -> None:
        TIME.world = self
        self.house = house
        self.seed = seed
        self.start = self.t = start
        self.file = 0  # which of the house's files is there now
        self.last_good: int | None = None
        self.agenda: list[tuple[int, int, Callable[[], None]]] = []
        self.planned = 0
        self.trace: list[tuple] = []
        self.faults: list[list] = []  # [kind, since, until]: what the judge may be told of
        self.clock = Clock(start)
        self.disk = disk or Disk(seed)
        self.parts = Parts(self)
        self.powered = False
        self.newest_stored = 0
        self.pressed: set[str] = set()
        self.daemon: Daemon | None = None
        self.hand: Hand | None = None
        self.journal: Journal | None = None
        self.hands = 0
        self.orders = 0
        self.answers: dict[int, Answer] = {}
        self.hand_late_ns = 0
        self.late_margin_ns = 0  # what the judge allows for that
        self.words_late_ns = 0
        self.words_until = 0
        self.lasting: list[Callable[[], None]] = []  # ends what still lasts
        self.supply_away = False
        self.on_finish: Callable[[], None] = lambda: None
        self.judge = Judge(self)
        self.moments = Moments(self)
        self._right_at_first()

    def _right_at_first(self) -> None:
        """A building that ran well until now: every line known, and right."""
        program = self.house.programs[0]
        for name, line in program.lines.items():
            shown = program.true(line, self.t)
            self.add_dials(name, shown)
            if name in self.house.unread:
                continue
            row = LineRow(name, True, shown, line.positions, "-", False, False, None, 0)
            self.disk.keep([row])

    def add_dials(self, name: str, shown: int) -> None:
        line = self.program.lines[name]
        dials = Dials(line.impulse, line.positions, line.alternating, shown)
        self.parts.dials.setdefault(f"lines.{name}", dials)

    # ── time ─────────────────────────────────────────────────────────────────────────────────

    @property
    def mono(self) -> int:
        return self.t - self.clock.mono_zero

    @property
    def utc(self) -> int:
        return self.t + self.clock.shift

    @property
    def program(self):
        return self.house.programs[self.file]

    def plan(self, at: int, what: Callable[[], None]) -> None:
        self.planned += 1
        heappush(self.agenda, (max(at, self.t), self.planned, what))

    def run(self, until: int) -> None:
        """Move on to `until`."""
        TIME.world = self
        agenda = self.agenda
        while True:
            daemon, hand, journal = self.daemon, self.hand, self.journal
            planned = agenda[0][0] if agenda else FAR
            look = FAR if daemon is None or daemon.hung else daemon.look
            due = FAR if hand is None else hand.due
            done = FAR if journal is None else journal.done
            nearest = min(planned, look, due, done)
            if nearest > until:
                break
            if nearest > self.t:
                self.t = nearest
            if planned == nearest:
                heappop(agenda)[2]()
            elif done == nearest:
                journal.finished()
            elif due == nearest:
                hand.advance()
            else:
                daemon.wake()
        self.t = until

    def note(self, *what) -> None:
        self.trace.append((self.t, *what))

    def begin(self, kind: str, detail: str = "") -> list:
        """Something begins that may excuse what the controller does not do."""
        fact = [kind, self.t, FAR, detail]
        self.faults.append(fact)
        return fact

    def end(self, fact: list) -> None:
        fact[2] = min(fact[2], self.t)

    def touched(self, since: int, until: int, *kinds: str) -> bool:
        """Whether anything of these kinds (of any, unless said) was there between the two."""
        return any(
            a <= until and b >= since and (not kinds or kind in kinds)
            for kind, a, b, _ in self.faults
        )

    # ── who vouches ──────────────────────────────────────────────────────────────────────────

    def vouched(self) -> bool:
        if self.clock.synced:
            return True
        return self.clock.vouched(self.t, self.house.trust_rtc, self.newest_stored)

    def set_clock(self, shift: int, *, synced: bool) -> None:
        """The system's clock is set; noticed at once mostly, and within a second by a beat."""
        clock = self.clock
        before, clock.shift, clock.synced = clock.shift, shift, synced
        if before != shift:
            fact = self.begin(words.STEPPED, f"{(shift - before) / SECOND:+.3f} s")
            self.end(fact)
            self.note("clock set", (shift - before) / SECOND, synced)
        self.judge.clock_set(before, shift)
        daemon = self.daemon
        if daemon is None:
            return
        if before != shift:
            share = scattered(self.seed + 3, self.planned)
            notices = 0 if share < 0.6 else int((share - 0.6) * 2.5 * SECOND)
            self.plan(self.t + notices, lambda: daemon.put(Tick()))
        self.plan(daemon.next_beat(), daemon.clock_beat)

    def synchronise(self) -> None:
        """A time server puts the clock right, and then the kernel vouches; after 11 minutes it
        sets the RTC by it.
        """
        if not self.powered:
            return
        boots = self.clock.boots
        share = scattered(self.seed + 4, self.planned)
        if self.clock.shift != self.clock.truth and share < 0.5:
            self.set_clock(self.clock.truth, synced=False)
            vouches = lambda: self.set_clock(self.clock.truth, synced=True)  # noqa: E731
            self.plan(self.t + int(share * 8 * SECOND), lambda: self._if_boot(boots, vouches))
        else:
            self.set_clock(self.clock.truth, synced=True)

        def sets_rtc() -> None:
            if self.clock.synced and self.clock.boots == boots:
                self.clock.rtc = self.clock.shift

        self.plan(self.t + 660 * SECOND, sets_rtc)

    def lose_sync(self) -> None:
        self.set_clock(self.clock.shift, synced=False)

    # ── the machine ──────────────────────────────────────────────────────────────────────────

    def power_off(self) -> None:
        """All power goes: Pi, relays, 24 V."""
        if not self.powered:
            return
        self.powered = False
        self.note("power off")
        self.judge.power_goes()
        self.parts.power(False)
        if self.hand is not None:
            self.hand.open_all(heard=False)
            self.hand = None
        if self.journal is not None:
            self.journal.ends()
            self.journal = None
        self.disk.lose_power()
        self._daemon_gone()

    def power_on(self, boot_ns: int, synced_after_ns: int | None) -> None:
        """It returns; the machine starts, its clock set from the RTC; then the daemon."""
        if self.powered:
            return
        self.powered = True
        self.note("power on")
        self.parts.power(not self.supply_away)
        self.clock.start(self.t)
        self._look_at_newest()
        self.judge.boots()
        boots = self.clock.boots
        if synced_after_ns is not None:
            self.plan(self.t + synced_after_ns, lambda: self._if_boot(boots, self.synchronise))
        self.plan(self.t + boot_ns, lambda: self._if_boot(boots, self.start_daemon))

    def _look_at_newest(self) -> None:
        """The newest event in the store, as a daemon finds it when it starts."""
        stamp = self.disk.rows.get(("stamp",))
        self.newest_stored = 0 if stamp is None else stamp.utc

    def _if_boot(self, boots: int, what: Callable[[], None]) -> None:
        if self.clock.boots == boots and self.powered:
            what()

    def start_daemon(self) -> None:
        """By systemd, once it may."""
        if self.daemon is not None or not self.powered:
            return
        building = self.house.buildings[self.file]
        before = None
        if self.last_good not in (None, self.file):
            before = self.house.buildings[self.last_good]
        self.journal = Journal(self)
        records = [*self.disk.load(), *self.journal.kept]
        self._look_at_newest()
        self.new_lines()
        self.note("daemon starts")
        self.judge.daemon_starts(records)
        self.hands += 1
        self.hand = Hand(self, building, f"hand-{self.hands}")
        self.daemon = Daemon(self, building, before, records)
        self.journal.told = self.daemon.stored
        self.last_good = self.file
        self.daemon.start()

    def new_lines(self) -> None:
        """Dials that nobody has heard of yet are as somebody left them."""
        for name in self.program.lines:
            self.add_dials(name, 17)

    def _daemon_gone(self) -> None:
        if self.daemon is not None:
            self.daemon.ended = True
            self.daemon = None
            self.judge.daemon_gone()

    def end_daemon(self, restart_ns: int) -> None:
        """Its process is gone; systemd starts another."""
        if self.daemon is None:
            return
        if self.journal is not None:
            self.journal.ends()
            self.journal = None
        if self.hand is not None:
            self.hand.open_all(heard=False)
            self.hand = None
        self._daemon_gone()
        self.note("daemon gone")
        boots = self.clock.boots
        self.plan(self.t + restart_ns, lambda: self._if_boot(boots, self.start_daemon))

    # ── words ────────────────────────────────────────────────────────────────────────────────

    @property
    def words_late(self) -> bool:
        return self.words_late_ns > 0 or self.words_until > self.t

    def later(self, what: Callable[[], None]) -> None:
        """A word between daemon and hand arrives, after those before it."""
        self.words_until = max(self.words_until, self.t + self.words_late_ns)
        self.plan(self.words_until, what)

    def order(self, what: Wish, who: str = "keeper") -> int:
        """Somebody asks for something; 0 where nobody hears."""
        if self.daemon is None:
            return 0
        self.orders += 1
        number = self.orders
        self.note("order", who, what)
        self.judge.ordered(number, what, who)
        self.daemon.put(Order(number, who, what))
        return number

    def answered(self, answer: Answer) -> None:
        if answer.order == FINISH:
            self.on_finish()
            return
        if answer.order in self.answers:
            raise Violation("an order answered once", f"{answer}")
        self.answers[answer.order] = answer
        self.note("answer", answer.ok, answer.text)
        self.judge.answered(answer)

    def press(self, name: str, closed: bool) -> None:
        """A contact of the panel is closed or opened."""
        if (name in self.pressed) == closed:
            return
        (self.pressed.add if closed else self.pressed.discard)(name)
        self.note("panel", name, closed)
        self.judge.panel_moved(name, closed)
        if self.hand is not None:
            self.hand.panel_moved(name, closed)
