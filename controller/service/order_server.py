"""The daemon's socket: one thread, which waits for nobody.

It reads lines, answers `status` and `watch` itself, and hands every other order to the desk. What
it takes is bounded (order_limits.py): beyond, a caller is simply not read for a while, so that its
own writing waits. Lines are taken in the order in which their callers were last served, one of
each, so that a caller who says little waits for one line of everybody else at most.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from controller.building.civil import SECOND
from controller.service.order_caller import Caller, Owed
from controller.service.order_callers import THROTTLED_NS, Callers
from controller.service.order_inbox import Inbox
from controller.service.order_limits import LIMITS, Limits, Pace
from controller.service.order_socket import listen_at
from controller.service.order_states import States
from controller.service.order_wire import MOST_ANSWER_BYTES, line_of
from controller.service.order_words import NotUnderstood, words_in
from controller.service.orders import Status, Watch, Words

_FAULT_SECONDS = 1.0  # after a fault of the server itself: it does not spin on it


class Reply(NamedTuple):
    """What an order came to."""

    ok: bool
    says: str
    more: Mapping[str, Any] = {}  # keys beside id, ok and says; plain enough for JSON
    file: int | None = None  # a descriptor to pass along (SCM_RIGHTS); closed in any case


class Desk(Protocol):
    """What the socket needs of the daemon."""

    def state(self) -> dict[str, Any]:
        """A picture of everything, plain enough for JSON; asked on the socket's thread."""

    def give(self, words: Words, who: str, answered: Callable[[Reply], None]) -> None:
        """See to an order, without waiting; `answered` hears of it once, on any thread."""


_FAULT = Reply(False, "A fault in the program itself; what came of the order is not known.")
_NOT_THE_PAGE = Reply(
    False,
    '"who" is taken only from the user that runs the keeper\'s page; nothing was done. '
    "Leave it out: the daemon knows who you are.",
)
_ENDS = Reply(False, "The daemon ends; what came of the order is not known.")
_ENDS_BEFORE = Reply(False, "The daemon ends; nothing was done.")


def _on_stderr(fault: BaseException) -> None:
    print(f"A fault in the program itself, at its socket: {fault!r}", file=sys.stderr, flush=True)


class OrderServer:
    """`start` it, tell it what has `changed`, and `close` it, from any thread."""

    def __init__(
        self,
        path: Path,
        desk: Desk,
        group: str | None,
        *,
        page: int | None = None,
        failed: Callable[[BaseException], None] = _on_stderr,
        limits: Limits = LIMITS,
    ) -> None:
        """Listen at `path`; who connects waits until `start`. Raise `OSError` in words.

        `page` is the user id of the keeper's page: from it alone the name of a person is taken.
        `failed` hears what nobody foresaw, in the desk or here; the server goes on.
        """
        self._path, self._desk, self._failed, self._limits = path, desk, failed, limits
        self._page = page
        self._callers = Callers(listen_at(path, group), limits, self._fail)
        self._file = os.stat(path)
        self._inbox: Inbox[tuple[Owed, Reply]] = Inbox()
        self._callers.attend(self._inbox.fileno())
        self._closing = threading.Event()
        self._close_by = 0  # mono
        self._thread = threading.Thread(target=self._run, name="orders", daemon=True)
        self._pace = Pace(limits.orders_a_second_in_all, limits.orders_a_second_in_all)
        self._states = States(desk.state, limits.states_a_second)

    # ── for other threads ────────────────────────────────────────────────────────────────────────

    def start(self) -> None:
        """Serve, on a thread."""
        self._thread.start()

    def changed(self) -> None:
        """Something that a watcher would see is otherwise. Cheap, however often it is said."""
        self._inbox.changed()

    def close(self, seconds: float) -> None:
        """Hear nothing more, answer what is owed within so many seconds, and be gone."""
        self._close_by = time.monotonic_ns() + int(seconds * SECOND)
        with contextlib.suppress(OSError):
            if os.path.samestat(os.stat(self._path), self._file):
                self._path.unlink()
        self._closing.set()
        if self._thread.ident is None:
            self._end()
        else:
            self._inbox.ring()
            self._thread.join(seconds + _FAULT_SECONDS)

    # ── the thread ───────────────────────────────────────────────────────────────────────────────

    def _run(self) -> None:
        while not self._closing.is_set():
            try:
                self._round()
            except Exception as fault:
                self._fail(fault)
                self._closing.wait(_FAULT_SECONDS)
        try:
            self._farewell()
        except Exception as fault:
            self._fail(fault)
        finally:
            self._end()

    def _round(self) -> None:
        """Wait until something is to be done, and do it."""
        now = self._callers.wait()
        if not self._closing.is_set():
            self._callers.welcome(now)
        self._take_up()
        for caller in self._callers.in_turn():
            self._serve(caller, now)
        self._tell_watchers(now)
        self._callers.tend(now)

    def _farewell(self) -> None:
        """Answer what is owed; whoever is owed nothing is parted."""
        now = time.monotonic_ns()
        for caller in self._callers.in_turn():
            while caller.has_line:
                line = self._callers.take_line(caller, now)
                self._callers.tell(caller, _answer(_id_of(line), _ENDS_BEFORE))
            self._callers.dismiss(caller, now)
        self._callers.tend(now)
        while self._callers and time.monotonic_ns() < self._close_by:
            self._callers.look_again_at(self._close_by)
            self._round()
        for caller in self._callers.in_turn():
            for owed in caller.owed:
                self._callers.tell(caller, _answer(owed.id, _ENDS))

    def _end(self) -> None:
        self._callers.end()
        for _, reply in self._inbox.close():
            _close_file(reply)

    def _fail(self, fault: BaseException) -> None:
        with contextlib.suppress(Exception):
            self._failed(fault)

    # ── orders ───────────────────────────────────────────────────────────────────────────────────

    def _serve(self, caller: Caller, now: int) -> None:
        """Take one line of it, where it is its turn."""
        if not caller.has_line or caller.unsent_bytes:
            return
        if len(caller.owed) >= self._limits.orders_owed:
            return
        kept = self._callers.kept(caller).orders_at_once
        due = max(caller.pace.due(), self._pace.due(kept))
        if due > now:
            self._callers.look_again_at(max(due, now + THROTTLED_NS))
            return
        caller.pace.take(now)
        self._pace.take(now)
        line = self._callers.take_line(caller, now)
        try:
            self._obey(caller, line, now)
        except Exception as fault:
            self._fail(fault)
            self._callers.tell(caller, _answer(_id_of(line), _FAULT))
        if caller.has_line:
            self._callers.look_again_at(now)

    def _obey(self, caller: Caller, line: bytes, now: int) -> None:
        try:
            words = words_in(line)
        except NotUnderstood as fault:
            self._callers.tell(caller, _answer(fault.id, Reply(False, str(fault))))
            return
        if words.who and caller.uid != self._page:
            self._callers.tell(caller, _answer(words.id, _NOT_THE_PAGE))
            return
        match words:
            case Status():
                state = self._states.drawn(now)
                answer = _answer(words.id, Reply(True, "The state as it is."))
                self._callers.tell(caller, answer[:-2] + b',"state":' + state + b"}\n")
            case Watch():
                self._callers.tell(caller, _answer(words.id, Reply(True, "The state follows.")))
                first, caller.watches = not caller.watches, True
                if first:
                    self._tell_state([caller], now)
                else:
                    caller.seen = -1  # with the others, at the next round
            case _:
                self._give(caller, words)

    def _give(self, caller: Caller, words: Words) -> None:
        owed = Owed(caller, words.id)
        caller.owed.add(owed)

        def answered(reply: Reply) -> None:
            if not self._inbox.put((owed, reply)):
                _close_file(reply)

        try:
            self._desk.give(words, words.who or caller.who, answered)
        except Exception as fault:
            self._fail(fault)
            answered(_FAULT)

    def _take_up(self) -> None:
        """What other threads have told: pass answers on, each once."""
        messages, changed = self._inbox.take(followed=bool(self._callers))
        if changed:
            self._states.changed()
        for owed, reply in messages:
            self._states.outdate()  # who reads an answer and asks then sees what came of it
            if owed.given:
                self._fail(AssertionError("an order was answered twice"))
                _close_file(reply)
                continue
            owed.given = True
            owed.caller.owed.discard(owed)
            try:
                answer = _answer(owed.id, reply)
            except Exception as fault:
                self._fail(fault)
                _close_file(reply)
                reply = _FAULT
                answer = _answer(owed.id, reply)
            self._callers.tell(owed.caller, answer, reply.file)

    # ── the state ────────────────────────────────────────────────────────────────────────────────

    def _tell_watchers(self, now: int) -> None:
        """Send the newest state to whoever has read the one before, all at the same time."""
        number = self._states.number
        behind = [
            one
            for one in self._callers.in_turn()
            if one.watches and one.seen < number and not one.unsent_bytes
        ]
        if not behind:
            return
        due = max(self._states.next_round(), min(one.next_state_at for one in behind))
        if now < due:
            self._callers.look_again_at(due)
            return
        self._states.begin_round(now)
        if any(one.next_state_at > now for one in behind):
            self._callers.look_again_at(self._states.next_round())
        self._tell_state([one for one in behind if one.next_state_at <= now], now)

    def _tell_state(self, watchers: list[Caller], now: int) -> None:
        """Send the state as it is; where there is no room for it, a later one comes."""
        try:
            line = self._states.line(now)
        except Exception as fault:
            self._fail(fault)
            line = b""
        for watcher in watchers:
            watcher.seen = self._states.number  # a fault is not met again before the next change
            watcher.next_state_at = now + self._states.lasts_ns
            if line and self._callers.fits(watcher, len(line)):
                watcher.put(line)


def _answer(id: int | None, reply: Reply) -> bytes:
    """The line of an answer; whatever is raised is the reply's fault."""
    ours = {"ok": bool(reply.ok), "says": str(reply.says)}
    assert not reply.more.keys() & {"id", *ours}, "an answer's own keys are not given twice"
    line = line_of({**({} if id is None else {"id": id}), **ours, **reply.more})
    if len(line) > MOST_ANSWER_BYTES:
        words = f"The answer is too long: {len(line)} bytes, at most {MOST_ANSWER_BYTES}."
        return _answer(id, Reply(False, words))
    return line


def _id_of(line: bytes) -> int | None:
    try:
        return words_in(line).id
    except NotUnderstood as fault:
        return fault.id
    except Exception:
        return None


def _close_file(reply: Reply) -> None:
    if reply.file is not None:
        with contextlib.suppress(OSError):
            os.close(reply.file)
