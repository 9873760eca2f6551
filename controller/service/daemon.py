"""The daemon: the engine's thread, its store, its hand, its wake-ups, and what people see of it."""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from controller.building.civil import CivilTime
from controller.building.faults import Faults
from controller.building.file import read
from controller.building.wiring import Wiring, wiring_of
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.circuits.folders import make_folder
from controller.circuits.lines import PinsFault
from controller.circuits.release import release
from controller.circuits.wire import FromHand, HandFault, Switched, ToHand
from controller.dials.position import true_position
from controller.engine.contract import (
    Answer,
    Decision,
    Finish,
    HandLost,
    HandReady,
    LineRow,
    NewBuilding,
    Now,
    Order,
    Record,
    SetLine,
    Stored,
    Tick,
)
from controller.engine.recover import recover
from controller.engine.state import State
from controller.service.engine_room import EngineRoom
from controller.service.hand_link import HandLink
from controller.service.journal_thread import JournalThread
from controller.service.last_good import keep_last_good, last_good, last_good_folder
from controller.service.systemd import notify
from controller.service.telling import decided_lines, last_impulse_words, switched_line
from controller.service.wakes import Wakes
from controller.timekeeping.kernel import boot_id, kernel_synchronised

if TYPE_CHECKING:
    from controller.building.model import Building

FAILED = 1
_FINISH_SECONDS = 5.0
_FINISH_ORDER, _FIRST_SET_ORDER = 1, 2


class Daemon:
    """One run. Everything that may end it puts a word into `ends`."""

    def __init__(self, path: Path, state: Path, runtime: Path, *, fake: bool, right: bool) -> None:
        self.path = path
        self.source = path  # what was read: the file, or the last good copy of it
        self.state_folder = make_folder(state)
        self.runtime = make_folder(runtime)
        self.board: Path | None = None
        self.fresh_board = False
        self._fake = fake
        self.as_if_right = right
        self.ends: queue.Queue[str] = queue.Queue()
        self.say: Callable[[str], None] = self.print_line
        self.answers: queue.Queue[Answer] = queue.Queue()
        self.changed = threading.Event()  # something a person would see is otherwise
        self.civil: CivilTime | None = None
        self._hands = 0
        self._hand: HandLink | None = None
        self.ending = False
        self._reload: Building | None = None

    # ── start ────────────────────────────────────────────────────────────────────────────────

    def start(self) -> None:
        """Read, recover, take the pins. Raise `Faults`, `StoreFault` or `PinsFault`, in words."""
        building, before = self._building()
        self.civil = building.civil
        if self._fake:
            self._take_board(wiring_of(building))
        self.journal = JournalThread(self.state_folder / "store.sqlite", self._stored, self.speak)
        records = self.journal.load()
        now = Now(time.time_ns(), time.monotonic_ns(), boot_id(), self.trusted())
        state = recover(building, records, now, before)
        for row in records:
            if isinstance(row, LineRow):
                self.speak(f"{row.line}  {last_impulse_words(building, row)}")
                self._put_fresh_dials(row)
        self.engine = EngineRoom(building, state, self)
        self.wakes = Wakes(lambda: self.engine.put(Tick()), self._daily)
        self._take_hand(wiring_of(building))
        if self.as_if_right:
            self._set_right(building, state, now)
        if self.source == self.path:
            keep_last_good(self.path, self.state_folder)
        self.engine.start(self._failed)
        notify("READY=1")

    def _take_board(self, wiring: Wiring) -> None:
        """A fake board that is wired as the file has it: the one that runs, or another."""
        self.board, self.fresh_board = start_or_find(self.source, self.runtime)
        with BoardClient(self.board) as board:
            fits = board.state()["wiring"] == wiring.to_json()
        if not fits:
            self.speak("The fake board that ran is wired otherwise: another takes its place.")
            stop(self.board)
            self.board, self.fresh_board = start_or_find(self.source, self.runtime)

    def _put_fresh_dials(self, row: LineRow) -> None:
        """A fake board that is new has the dials where the store left them, as walls would."""
        if self.board is not None and self.fresh_board and row.read:
            with BoardClient(self.board) as board, contextlib.suppress(PinsFault):
                board.set_dials(row.line, row.shown, row.polarity)

    def _building(self) -> tuple[Building, Building | None]:
        """The file; else the last good copy, loudly. And what the last run had, if it differed."""
        before = last_good(self.state_folder)
        try:
            building = read(self.path)
        except Faults as faults:
            if before is None:
                raise
            self.speak(f"{faults}\nThe file has faults: going on with the last good copy of it.")
            self.source = last_good_folder(self.state_folder)
            return before, None
        changed = before is not None and before.fingerprint != building.fingerprint
        return building, before if changed else None

    def _set_right(self, building: Building, state: State, now: Now) -> None:
        """At a first start, for demonstrations: clock and lines are taken to be right."""
        for number, (name, line) in enumerate(building.lines.items(), _FIRST_SET_ORDER):
            if state.lines[name].row.read:
                continue
            shown = true_position(line, building.civil, now.utc)
            if self.board is not None:
                with BoardClient(self.board) as board:
                    board.set_dials(name, shown, "-")
            self.engine.put(Order(number, "as-if-right", SetLine(name, shown, "-")))

    def _take_hand(self, wiring: Wiring) -> None:
        self._hands += 1
        name = f"hand-{os.getpid()}-{self._hands}"
        hand = HandLink(name, wiring, self.runtime, self.board)
        self._hand = hand
        hand.listen(lambda message: self._heard(hand, message))
        self.engine.put(HandReady(name))

    # ── what the engine's thread needs (engine_room.Around) ──────────────────────────────────

    def tell_hand(self, message: ToHand) -> bool:
        return self._hand is not None and self._hand.tell(message)

    def commit(self, batch: int, records: tuple[Record, ...]) -> None:
        self.journal.commit(batch, records)

    def wake_at(self, utc: int) -> None:
        self.wakes.wake_at(utc)

    def trusted(self) -> bool:
        """The kernel's word; or a person's, who said at the start that all is right."""
        return self.as_if_right or kernel_synchronised()

    def answered(self, answer: Answer) -> None:
        if answer.order == _FINISH_ORDER:
            self.answers.put(answer)
        else:
            self.speak(answer.text)

    def decided(self, decision: Decision) -> None:
        for line in decided_lines(decision):
            self.speak(line)
        self.changed.set()

    def beat(self, state: State) -> None:
        """Once a second, on the engine's thread."""
        if self._hand is not None:
            self._hand.beat()
        if self._reload is not None and at_rest(state):
            building, self._reload = self._reload, None
            self._rewire(building)
        notify("WATCHDOG=1", f"STATUS={self._status_words(state)}")
        self.changed.set()

    def _status_words(self, state: State) -> str:
        trust = "" if self.trusted() else "clock not trusted; "
        unread = [name for name, line in state.lines.items() if not line.row.read]
        return trust + (f"unread: {', '.join(unread)}" if unread else "running")

    # ── what others tell it ──────────────────────────────────────────────────────────────────

    def _stored(self, batch: int, ok: bool) -> None:
        self.engine.put(Stored(batch, ok))

    def _heard(self, hand: HandLink, message: FromHand | None) -> None:
        if message is None:
            self.engine.put(HandLost(hand.name))
            if hand is self._hand and not self.ending:
                self.ends.put("the hand is gone")
        elif isinstance(message, Switched):
            line = switched_line(self.engine.building, self.engine.state, message)
            if line is not None:
                self.speak(line)
            self.changed.set()
        elif isinstance(message, HandFault):
            self.speak(message.says)
        else:
            self.engine.put(message)  # type: ignore[arg-type]

    def _failed(self, fault: BaseException) -> None:
        """What nobody foresaw: the words for people, the rest into a file."""
        report = self.state_folder / "fault.txt"
        report.write_text("".join(traceback.format_exception(fault)), encoding="utf-8")
        self.ends.put(f"a fault in the program itself ({fault!r}); see {report}")

    def _daily(self) -> None:
        if self.trusted():
            keep = self.engine.building.logbook.keep_ns
            self.journal.prune(time.time_ns() - keep)

    def speak(self, text: str) -> None:
        self.say(f"{self.local_time()}  {text}")

    def local_time(self) -> str:
        """The building's time of day."""
        return "" if self.civil is None else f"{self.civil.aware(time.time_ns()):%H:%M:%S}"

    @staticmethod
    def print_line(line: str) -> None:
        print(line, file=sys.stderr, flush=True)

    # ── reload and end ───────────────────────────────────────────────────────────────────────

    def reload(self) -> None:
        """Take the file as it is now; keep the old one where it has faults."""
        try:
            building = read(self.path)
        except Faults as faults:
            self.speak(f"{faults}\nNot reloaded: the file that was running goes on.")
            return
        keep_last_good(self.path, self.state_folder)
        self.civil, self.source = building.civil, self.path
        if wiring_of(building) == wiring_of(self.engine.building):
            self.engine.put(NewBuilding(building))
            self.speak("The file is reloaded.")
        else:
            self.speak("The wiring has changed: reloaded as soon as all circuits are at rest.")
            self._reload = building

    def _rewire(self, building: Building) -> None:
        """On the engine's thread, all at rest: one hand ends, another takes the new pins."""
        old, self._hand = self._hand, None
        assert old is not None
        old.end()
        old.close()
        self.engine.put(HandLost(old.name))
        self.engine.put(NewBuilding(building))
        try:
            if self.board is not None:
                self._take_board(wiring_of(building))
                for line in self.engine.state.lines.values():
                    self._put_fresh_dials(line.row)
            self._take_hand(wiring_of(building))
            self.speak("The file is reloaded, with its new wiring.")
        except PinsFault as fault:
            self.ends.put(str(fault))

    def end(self) -> None:
        """In order: relays open, what is owed is stored, everything ends."""
        self.ending = True
        notify("STOPPING=1")
        if self._hand is not None:
            self._hand.end()
            self._hand.close()
        self.engine.put(Order(_FINISH_ORDER, "", Finish()))
        try:
            self.answers.get(timeout=_FINISH_SECONDS)
        except queue.Empty:
            self.speak("The store did not answer in time; the next start judges by what it has.")
        if self.board is not None:
            self.say = self.print_line
            self.speak(f"The fake board goes on; `understudy fake-board {self.path} end` ends it.")
        self._close()

    def give_up(self) -> None:
        """The hand is gone, or the engine: open what may be closed, keep what can be kept."""
        self.ending = True
        if self._hand is not None:
            self._hand.end()
            self._hand.close()
        try:
            for line in release(self.runtime, self.path):
                self.speak(line)
        except PinsFault as fault:
            self.speak(str(fault))
        self._close()

    def _close(self) -> None:
        self.engine.end(_FINISH_SECONDS)
        self.wakes.close()
        self.journal.close(_FINISH_SECONDS)


def at_rest(state: State) -> bool:
    """No circuit is doing anything, nor about to."""
    return all(zone.sounding is None for zone in state.zones.values()) and all(
        line.play is None for line in state.lines.values()
    )


def serve(daemon: Daemon, watch: Callable[[Daemon], None]) -> int:
    """Run until told to end; the exit code. `watch` shows a person what happens, until then."""
    signal.signal(signal.SIGTERM, lambda *_: daemon.ends.put(""))
    signal.signal(signal.SIGINT, lambda *_: daemon.ends.put(""))
    on_terminal = os.isatty(1)
    # A terminal that is closed says so with the same signal, and is no terminal any more.
    signal.signal(
        signal.SIGHUP,
        lambda *_: daemon.ends.put("" if on_terminal and not os.isatty(1) else "reload"),
    )
    daemon.start()
    threading.Thread(target=watch, args=(daemon,), name="watch", daemon=True).start()
    while (word := daemon.ends.get()) == "reload":
        daemon.reload()
    if word:
        daemon.give_up()
        daemon.say = daemon.print_line
        daemon.speak(f"understudy ends: {word}.")
        return FAILED
    daemon.end()
    return 0
