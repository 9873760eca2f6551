"""The daemon: the engine's thread, its store, its hand, its wake-ups, its socket, and what people
see of it.
"""

from __future__ import annotations

import contextlib
import os
import queue
import sys
import threading
import time
import traceback
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from controller.building.civil import CivilTime
from controller.building.faults import Faults
from controller.building.wiring import Wiring, wiring_of
from controller.circuits.folders import make_folder
from controller.circuits.hand_link import HandLink
from controller.circuits.lines import PinsFault
from controller.circuits.release import release
from controller.circuits.wire import FromHand, HandFault, Switched, ToHand
from controller.engine.contract import (
    Answer,
    Decision,
    FaultFound,
    HandLost,
    HandReady,
    NewBuilding,
    Now,
    Order,
    Stored,
    Tick,
)
from controller.engine.faults import HAND
from controller.engine.records import FaultRow, LineRow, Record, Stamp
from controller.engine.recover import recover
from controller.engine.state import State
from controller.engine.turn import NOBODY
from controller.engine.wishes import Finish, Noted
from controller.journal.mirror import Mirror
from controller.service.clerk import Clerk
from controller.service.clock import ClockWatch
from controller.service.demonstration import FakeBoard, put_fresh_dials, set_right, take_board
from controller.service.desk import OWN_ORDERS, Desk
from controller.service.ends import Ends
from controller.service.engine_room import EngineRoom
from controller.service.files import FAULT, Files
from controller.service.journal_thread import JournalThread
from controller.service.keepers_teller import KeepersTeller
from controller.service.last_good import building_to_run, keep_last_good
from controller.service.last_state import EVERY_SECONDS, keep_last_state
from controller.service.order_server import OrderServer
from controller.service.order_wire import SOCKET
from controller.service.page_user import page_uid, page_uid_on_a_fake_board
from controller.service.picture import state_picture
from controller.service.systemd import notify, status
from controller.service.telling import decided_lines, last_impulse_words, switched_line
from controller.service.wakes import Wakes
from controller.timekeeping.kernel import boot_id
from controller.timekeeping.steps import StepWatcher

if TYPE_CHECKING:
    from controller.building.model import Building

LONG_AGO = float("-inf")  # on the monotonic clock, which begins with the machine
_FINISH_SECONDS = 5.0
_FAREWELL_SECONDS = 1.0
_FINISH_ORDER = OWN_ORDERS - 1


class Daemon:
    """One run. Everything that may end it puts a word into `ends`."""

    def __init__(
        self,
        path: Path,
        state: Path,
        runtime: Path,
        *,
        fake: bool,
        right: bool,
        group: str | None = None,
    ) -> None:
        """`group` may give orders through the socket, beside this user and root."""
        self.path = path
        self.source = path  # what was read: the file, or the last good copy of it
        self.state_folder = make_folder(state)
        self.runtime = make_folder(runtime)
        self.board: FakeBoard | None = None
        self._fake = fake
        self._group = group
        self.as_if_right = right
        self.ends = Ends()
        self.say: Callable[[str], None] = self.print_line
        self.answers: queue.Queue[Answer] = queue.Queue()
        self.changed = threading.Event()  # something a person would see is otherwise
        self.civil: CivilTime | None = None
        self._hands = count(1)
        self._hand: HandLink | None = None
        self.ending = False
        self._reload: Building | None = None
        self._teller = KeepersTeller(self.speak)
        self._state_kept = LONG_AGO
        self._status = ""  # as systemd was told
        self.clerk = Clerk(self._clerk_failed)
        self.desk = Desk(self)
        self.files = Files(
            path, self.state_folder, self._running, self._take_up, self._put, self.noted
        )

    # ── start ────────────────────────────────────────────────────────────────────────────────

    def start(self) -> None:
        """Read, recover, take the pins. Raise `Faults`, `StoreFault` or `PinsFault`, in words."""
        hand = self._new_hand()  # which begins on its own processor while the file is read
        building, before, self.source = building_to_run(self.path, self.state_folder, self.speak)
        self.civil = building.civil
        if self._fake:
            self.board = take_board(self.source, self.runtime, wiring_of(building), self.speak)
        self.journal = JournalThread(
            self.state_folder / "store.sqlite",
            Mirror(self.runtime / "unstored.json", boot_id()),
            self._stored,
            self.speak,
        )
        state, now = self._recovered(building, before)
        self.engine = EngineRoom(building, state, self)
        page = page_uid_on_a_fake_board() if self._fake else page_uid()
        self.server = OrderServer(self.runtime / SOCKET, self.desk, self._group, page=page)
        self._teller.go_by(building)
        self.wakes = Wakes(self._look_again, self._daily)
        self.steps = StepWatcher(self._look_again, self.speak)
        self._take_hand(hand, wiring_of(building))
        if self.as_if_right:
            for number, words in enumerate(set_right(building, state, now, self.board), 1):
                self.engine.put(Order(number, "as-if-right", words))
        if self.source == self.path:
            self._keep_last_good()
            self.engine.put(FaultFound(FAULT, ""))
        else:
            says = f"{self.path} has faults: the last good copy of it runs"
            self.engine.put(FaultFound(FAULT, says))
        self.engine.start(self._failed)
        self.server.start()
        self.speak(f"Orders reach this daemon with --runtime {self.runtime}")
        notify("READY=1")

    def _recovered(self, building: Building, before: Building | None) -> tuple[State, Now]:
        """What the store has of the runs before; all that was read for it is let go of here."""
        records = self.journal.load()
        self.clock = ClockWatch(
            trust_rtc=building.clock.trust_rtc,
            newest_stored_utc=max((r.utc for r in records if isinstance(r, Stamp)), default=0),
            as_if_right=self.as_if_right,
        )
        now = Now(time.time_ns(), time.monotonic_ns(), boot_id(), self.clock.vouched())
        state = recover(building, records, now, before)
        for row in records:
            if isinstance(row, LineRow):
                self.speak(f"{row.line}  {last_impulse_words(building, row)}")
                put_fresh_dials(self.board, row)
        return state, now

    def _new_hand(self) -> HandLink:
        return HandLink(f"hand-{os.getpid()}-{next(self._hands)}")

    def _take_hand(self, hand: HandLink, wiring: Wiring) -> None:
        hand.take(wiring, self.runtime, self.board and self.board.socket)
        self._hand = hand
        hand.listen(lambda message: self._heard(hand, message))
        self.engine.put(HandReady(hand.name, hand.ready.panel, hand.ready.supply))

    # ── what the engine's thread needs (engine_room.Around) ──────────────────────────────────

    def tell_hand(self, message: ToHand) -> bool:
        return self._hand is not None and self._hand.tell(message)

    def commit(self, batch: int, records: tuple[Record, ...]) -> None:
        self.journal.commit(batch, records)

    def wake_at(self, utc: int) -> None:
        self.wakes.wake_at(utc)

    def vouched(self) -> bool:
        """Asked once a second: whether somebody vouches for the clock."""
        self.clock.look()
        return self.clock.vouched()

    def answered(self, answer: Answer) -> None:
        if answer.order == _FINISH_ORDER:
            self.answers.put(answer)
        elif answer.order in range(1, OWN_ORDERS):
            self.speak(answer.text)
        else:
            self.desk.answered(answer)

    def decided(self, decision: Decision) -> None:
        for line in decided_lines(decision):
            self.speak(line)
        for record in decision.records:
            if isinstance(record, FaultRow) and not record.acknowledged:
                self._state_kept = LONG_AGO
                self._teller.tell(record)
        self._tell_status()
        self._seen()

    def beat(self, state: State, *, well: bool) -> None:
        """Once a second, and when all is well or no longer; on the engine's thread."""
        self.journal.look()
        if self._hand is not None:
            self._hand.beat(well)
            if self._hand.hangs and not self.ending:
                self.speak("The hand does not answer: it is ended.")
                self._hand.kill()
        if self._reload is not None and state.at_rest:
            building, self._reload = self._reload, None
            self._rewire(building)
        if time.monotonic() - self._state_kept >= EVERY_SECONDS:
            self._state_kept = time.monotonic()
            self.clerk.give(self._keep_last_state)
        if not self.journal.hung():
            notify("WATCHDOG=1")
        self._seen()

    def _tell_status(self) -> None:
        """Tell systemd what `systemctl status` is to show, where that is otherwise."""
        state = self.engine.state
        told = status(state, self.clock.now(state).trusted)
        if told != self._status:
            self._status = told
            notify(f"STATUS={told}")

    def _seen(self) -> None:
        """Something that people look at may be otherwise."""
        self.changed.set()
        self.server.changed()

    def picture(self) -> dict[str, Any]:
        """Everything as it is now, plain enough for JSON; from any thread."""
        state = self.engine.state
        now = self.clock.now(state)
        return state_picture(self.engine.building, state, now, self.clock.picture(state, now))

    def _look_again(self) -> None:
        """Have the engine look; where its queue is full, it will look anyway."""
        self.engine.offer(Tick())

    def _keep_last_good(self) -> None:
        try:
            keep_last_good(self.path, self.state_folder)
        except OSError as fault:
            self.speak(f"No copy of the file could be kept for a start with a bad one: {fault}")

    def _keep_last_state(self) -> None:
        keep_last_state(self.state_folder, self.picture())

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

    def _clerk_failed(self, fault: BaseException) -> None:
        """The clerk goes on: an order that he could not carry out moves no relay."""
        self.speak(f"not done: {fault!r}; see {self._report(fault)}")

    def _report(self, fault: BaseException) -> Path:
        """What nobody foresaw, for whoever mends it."""
        report = self.state_folder / "fault.txt"
        with contextlib.suppress(OSError):
            report.write_text("".join(traceback.format_exception(fault)), encoding="utf-8")
        return report

    def _failed(self, fault: BaseException) -> None:
        report = self._report(fault)
        self.ends.put(f"a fault in the program itself ({fault!r}); see {report}")

    def _daily(self) -> None:
        if self.clock.now(self.engine.state).trusted:
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
            self.speak(self.files.reload("", "signal"))
        except (Faults, OSError) as fault:
            self.speak(f"{fault}\nNot reloaded: the file that was running goes on.")

    def _running(self) -> tuple[Building, State]:
        return self.engine.building, self.engine.state

    def _put(self, found: FaultFound) -> None:
        self.engine.put(found)

    def noted(self, who: str, text: str) -> None:
        """The logbook tells what somebody had done beside the engine."""
        self.engine.put(Order(NOBODY, who, Noted(text)))

    def _take_up(self, building: Building) -> str:
        """Give the engine another building; when it counts, in words."""
        self.civil, self.source = building.civil, self.path
        self.clock.trust_rtc = building.clock.trust_rtc
        self._keep_last_good()
        if wiring_of(building) == wiring_of(self.engine.building):
            self._reload = None
            self.engine.put(NewBuilding(building))
            self._teller.go_by(building)
            return "The file is reloaded."
        self._reload = building
        return "The wiring has changed: it is reloaded as soon as all circuits are at rest."

    def _rewire(self, building: Building) -> None:
        """On the engine's thread, all at rest: one hand ends, another takes the new pins."""
        old, self._hand = self._hand, None
        assert old is not None
        old.end()
        old.close()
        self.engine.put(HandLost(old.name))
        self.engine.put(NewBuilding(building))
        self._teller.go_by(building)
        try:
            if self.board is not None:
                wiring = wiring_of(building)
                self.board = take_board(self.source, self.runtime, wiring, self.speak)
                for line in self.engine.state.lines.values():
                    put_fresh_dials(self.board, line.row)
            self._take_hand(self._new_hand(), wiring_of(building))
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
        self._finish()
        if self.board is not None:
            self.say = self.print_line
            self.speak(f"The fake board goes on; `understudy fake-board {self.path} end` ends it.")
        self._close()

    def _finish(self) -> None:
        """What is owed is stored."""
        self.engine.put(Order(_FINISH_ORDER, "", Finish()))
        try:
            self.answers.get(timeout=_FINISH_SECONDS)
        except queue.Empty:
            self.speak("The store did not answer in time; the next start judges by what it has.")

    def give_up(self, word: str) -> None:
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
        if self.engine.alive and self.engine.offer(FaultFound(HAND, word)):
            self._finish()
        self._close()

    def _close(self) -> None:
        self.server.close(_FAREWELL_SECONDS)
        self.clerk.give(self._keep_last_state)
        self.clerk.close(_FAREWELL_SECONDS)
        self._teller.close(_FAREWELL_SECONDS)
        self.engine.end(_FINISH_SECONDS)
        self.wakes.close()
        self.steps.close()
        self.journal.close(_FINISH_SECONDS)
