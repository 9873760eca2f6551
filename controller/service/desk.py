"""The daemon's desk: what is said through the socket goes to the engine, or to the clerk.

What the engine decides is asked of it; files, logbook and copies are the clerk's.
"""

from __future__ import annotations

import itertools
import os
import threading
import time
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

from controller.building.civil import SECOND
from controller.building.durations import DAY, duration_ns
from controller.building.faults import Faults
from controller.building.values import EVERY_ZONE
from controller.dials.position import position_of
from controller.editing.keeper_file import EditRefused
from controller.engine import wishes
from controller.engine.contract import Answer, Order
from controller.engine.wishes import Wish
from controller.journal.faults import StoreFault
from controller.journal.logbook import LogbookEntry
from controller.service import orders
from controller.service.order_server import Reply
from controller.service.orders import Words

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.service.daemon import Daemon

ALL = "all"
OWN_ORDERS = 1_000  # the daemon's own orders have numbers below
MOST_OWED = 1_000  # orders whose answer is still to come
_LINE_ORDERS: dict[type[Words], Callable[[str], Wish]] = {
    orders.Hold: wishes.HoldLine,
    orders.Go: wishes.GoLine,
    orders.Right: wishes.LineRight,
    orders.Stood: wishes.LineStood,
    orders.Swapped: wishes.LineSwapped,
    orders.Moved: wishes.LineMoved,
}
Answered = Callable[[Reply], None]


class Desk:
    def __init__(self, daemon: Daemon) -> None:
        self._daemon = daemon
        self._numbers = itertools.count(OWN_ORDERS)
        self._owed: dict[int, Answered] = {}
        self._lock = threading.Lock()

    def state(self) -> dict[str, Any]:
        """Everything as it is now, plain enough for JSON."""
        return self._daemon.picture()

    def give(self, words: Words, who: str, answered: Answered) -> None:
        """See to it; `answered` hears of it once, from whichever thread."""
        work = self._clerks_work(words, who)
        if work is not None:
            if not self._daemon.clerk.give(lambda: self._have_done(work, answered)):
                answered(Reply(False, "Too much is asked at once; say it again in a moment."))
            return
        try:
            wish = wish_of(words, self._daemon.engine.building)
        except ValueError as fault:
            answered(Reply(False, f"{fault}."))
            return
        with self._lock:
            number = next(self._numbers)
            if len(self._owed) < MOST_OWED:
                self._owed[number] = answered
        if number not in self._owed or not self._daemon.engine.offer(Order(number, who, wish)):
            with self._lock:
                self._owed.pop(number, None)
            answered(Reply(False, "Too much is asked at once; say it again in a moment."))

    def _have_done(self, work: Callable[[], Reply], answered: Answered) -> None:
        """On the clerk's thread: whatever comes of it, there is an answer."""
        try:
            answered(_tried(work))
        except Exception:
            answered(Reply(False, "A fault in the program itself; nothing was done."))
            raise

    def answered(self, answer: Answer) -> None:
        """The engine's answer, to whoever waits for it."""
        with self._lock:
            waiting = self._owed.pop(answer.order, None)
        if waiting is not None:
            waiting(Reply(answer.ok, answer.text))

    # ── the clerk's ──────────────────────────────────────────────────────────────────────────

    def _clerks_work(self, words: Words, who: str) -> Callable[[], Reply] | None:
        daemon = self._daemon
        match words:
            case orders.LogbookOrder():
                return lambda: self._logbook(words)
            case orders.Files():
                return lambda: self._files()
            case orders.Backup():
                return lambda: self._backup(who)
            case orders.Preview():
                return lambda: _previewed(daemon, words)
            case orders.Reload():
                return lambda: Reply(True, daemon.files.reload(words.fingerprint, who))
            case orders.Earlier():
                return lambda: _earlier(daemon)
            case orders.Edit():
                return lambda: Reply(
                    True, daemon.files.edit(words.file, words.text, words.was, who)
                )
            case _:
                return None

    def _logbook(self, asked: orders.LogbookOrder) -> Reply:
        civil = self._daemon.engine.building.civil
        now = time.time_ns()
        try:
            since = civil.instant_of(asked.since) if asked.since else now - DAY
        except ValueError as fault:
            return Reply(False, f"{fault}.")
        until = now + DAY if asked.before is None else asked.before  # a clock set back shows too
        entries = self._daemon.journal.read_logbook(since, until, asked.most)
        more = {"entries": [entry_plain(entry) for entry in entries]}
        return Reply(True, f"{len(entries)} entries.", more)

    def _files(self) -> Reply:
        files = self._daemon.files
        more = {
            "path": str(files.path.absolute()),
            "files": files.texts(),
            "fingerprint": self._daemon.engine.building.fingerprint,
        }
        return Reply(True, f"{len(more['files'])} files.", more)

    def _backup(self, who: str) -> Reply:
        copy = self._daemon.runtime / f"copy-{os.getpid()}.sqlite"
        copy.unlink(missing_ok=True)
        self._daemon.journal.copy_to(copy)
        file = os.open(copy, os.O_RDONLY | os.O_CLOEXEC)
        copy.unlink()  # whoever has it open keeps it
        self._daemon.noted(who, "a copy of the store is given")
        return Reply(True, "A copy of the store.", {}, file)


def _tried(work: Callable[[], Reply]) -> Reply:
    try:
        return work()
    except (EditRefused, StoreFault, Faults) as fault:
        return Reply(False, str(fault))
    except OSError as fault:
        where = "" if fault.filename is None else f"{fault.filename}: "
        return Reply(False, f"{where}{fault.strerror or fault}.")


def _previewed(daemon: Daemon, asked: orders.Preview) -> Reply:
    found = daemon.files.preview(asked.file, asked.text)
    says = "What would change:" if found.changes else "Nothing would change in the coming 14 days."
    return Reply(True, says, found._asdict())


def _earlier(daemon: Daemon) -> Reply:
    found = daemon.files.earlier()
    more = {"file": found.file, "text": found.text, "edited": found.edited_utc}
    return Reply(True, f"{found.file} as it was before its last edit.", more)


def entry_plain(entry: LogbookEntry) -> dict[str, Any]:
    """An entry of the logbook for JSON."""
    return {
        "at": entry.utc,
        "kind": entry.kind,
        "zone": entry.zone,
        "written": list(entry.written),
        "text": entry.text,
        "how": entry.how,
        "seconds": entry.length / SECOND,
        "by": entry.by,
        "rings": entry.rings,
    }


def wish_of(words: Words, building: Building) -> Wish:
    """What is wanted of the engine. `ValueError` says what cannot be made out."""
    of_line = _LINE_ORDERS.get(type(words))
    if of_line is not None:
        assert isinstance(words, orders.LineWords)
        return of_line(words.line)
    match words:
        case orders.Ring():
            try:
                length = duration_ns(words.for_)
            except ValueError:
                raise ValueError(
                    f"{words.for_!r} is no duration; expected one such as 3s"
                ) from None
            return wishes.RingByHand(_zones(words.zones, building), length)
        case orders.Stop():
            return wishes.StopAll()
        case orders.Quiet():
            until = building.civil.instant_of(words.until)
            return wishes.QuietZones(_zones(words.zones, building), until)
        case orders.LiftQuiet():
            return wishes.QuietZones(_zones(words.zones, building), 0)
        case orders.Follow():
            try:
                day = date.fromisoformat(words.date)
            except ValueError:
                raise ValueError(f"{words.date!r} is no date that exists") from None
            return wishes.Follow(day, words.plan)
        case orders.Set():
            polarity = words.polarity or None
            return wishes.SetLine(words.line, _position(building, words), polarity)
        case orders.Step():
            return wishes.StepLine(words.line, words.impulses)
        case orders.To():
            return wishes.DriveLine(words.line, _position(building, words))
        case orders.TrustClock():
            return wishes.TrustClock()
        case orders.Acknowledge():
            return wishes.Acknowledge(words.fault)
    raise AssertionError(f"an order that nobody knows: {words}")


def _zones(names: list[str], building: Building) -> tuple[str, ...]:
    everything = ALL in names or EVERY_ZONE in names
    return tuple(building.zones) if everything else tuple(dict.fromkeys(names))


def _position(building: Building, words: orders.Set | orders.To) -> int:
    line = building.lines.get(words.line)
    return 0 if line is None else position_of(line, words.shows)  # the engine refuses the line
