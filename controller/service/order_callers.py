"""Who is connected to the daemon's socket: let in, heard, told and parted, within the limits."""

from __future__ import annotations

import contextlib
import os
import selectors
import socket
import time
from collections.abc import Callable

from controller.building.civil import SECOND
from controller.service.order_caller import Caller
from controller.service.order_limits import NOTHING, Kept, Limits, LongLines, Pace
from controller.service.order_wire import line_of

THROTTLED_NS = SECOND // 50  # who must wait is looked at so often: rounds cost time as well
_MOST_WELCOMED = 16  # in one round
_NO_MORE_FILES_NS = SECOND  # until a connection that could not be taken is tried again
_FULL = "The daemon has as many callers as it takes; try again in a moment."


class Callers:
    """All connections. No method but `wait` waits, and none raises for what a caller does."""

    def __init__(
        self, listener: socket.socket, limits: Limits, failed: Callable[[BaseException], None]
    ) -> None:
        self._listener, self._limits, self._failed = listener, limits, failed
        self._selector = selectors.DefaultSelector()
        self._selector.register(listener, selectors.EVENT_READ)
        self._all: dict[Caller, None] = {}  # whoever was served longest ago comes first
        self._connecting = Pace(limits.connections_a_second, limits.clients)
        self._long_lines = LongLines(limits)
        self._deaf_until = 0  # mono; until then nobody new is let in
        self._look_at: int | None = None  # mono at which something is to be done unasked

    def __bool__(self) -> bool:
        return bool(self._all)

    def in_turn(self) -> list[Caller]:
        """Everybody; whoever was served longest ago, or came first, comes first."""
        return list(self._all)

    def kept(self, caller: Caller) -> Kept:
        """How much of what all share is not for this one."""
        return NOTHING if caller.ours else self._limits.kept

    # ── rounds ───────────────────────────────────────────────────────────────────────────────────

    def attend(self, bell: int) -> None:
        """Let a `wait` end when this descriptor is readable, too."""
        self._selector.register(bell, selectors.EVENT_READ)

    def look_again_at(self, mono: int) -> None:
        """Let the next `wait` end then at the latest."""
        self._look_at = mono if self._look_at is None else min(self._look_at, mono)

    def wait(self) -> int:
        """Wait until something is to be done; hear what was said. The mono of now."""
        seconds = None
        if self._look_at is not None:
            seconds = max(0, self._look_at - time.monotonic_ns()) / SECOND
        ready = self._selector.select(seconds)
        self._look_at = None
        for key, events in ready:
            if isinstance(key.data, Caller):
                if events & selectors.EVENT_WRITE:
                    key.data.blocked = False
                    self._carefully(key.data, Caller.send)
                if events & selectors.EVENT_READ:
                    self._carefully(key.data, Caller.hear)
        return time.monotonic_ns()

    def welcome(self, now: int) -> None:
        """Let in who has connected, as far as there is room."""
        for _ in range(_MOST_WELCOMED):
            self._deaf_until = max(self._deaf_until, self._connecting.due())
            if self._deaf_until > now:
                break
            try:
                link, _ = self._listener.accept()
            except BlockingIOError:
                break
            except OSError:  # there are no more descriptors
                self._deaf_until = now + _NO_MORE_FILES_NS
                break
            self._connecting.take(now)
            try:
                self._let_in(Caller(link, self._limits))
            except OSError:  # it is gone again
                link.close()
        listens = self._listener.fileno() in self._selector.get_map()
        if self._deaf_until > now:
            self.look_again_at(self._deaf_until)
            if listens:
                self._selector.unregister(self._listener)
        elif not listens:
            self._selector.register(self._listener, selectors.EVENT_READ)

    def tend(self, now: int) -> None:
        """Send what is to be sent, and see what is to be heard of whom next, if anything."""
        for caller in self.in_turn():
            self._carefully(caller, lambda one: self._see_to(one, now))

    def end(self) -> None:
        """Part everybody, with what can still be sent, and listen no more."""
        for caller in self.in_turn():
            self._carefully(caller, Caller.send)
            self.part(caller)
        self._selector.close()
        self._listener.close()

    # ── one of them ──────────────────────────────────────────────────────────────────────────────

    def take_line(self, caller: Caller, now: int) -> bytes:
        """The line that it has said; it is the last in turn then."""
        del self._all[caller]
        self._all[caller] = None
        line = caller.take_line()
        self._free_room(caller, now, len(line))
        return line

    def tell(self, caller: Caller, line: bytes, file: int | None = None) -> None:
        """Send something, if it is still there and reads; a file is closed in any case."""
        if caller in self._all and self._make_room(caller, len(line)):
            caller.put(line, file)
            self._carefully(caller, Caller.send)  # so that whatever is unsent waits for its reader
        elif file is not None:
            with contextlib.suppress(OSError):
                os.close(file)

    def fits(self, caller: Caller, size: int) -> bool:
        """Whether so many bytes more may wait to be sent to it, among all that wait."""
        most = self._limits.unsent_bytes_in_all - self.kept(caller).unsent_bytes
        return sum(one.unsent_bytes for one in self._all) + size <= most

    def dismiss(self, caller: Caller, now: int) -> None:
        """Hear nothing more of it; it is parted once it has been sent what it is owed."""
        self._free_room(caller, now, 0)
        caller.dismiss()

    def part(self, caller: Caller) -> None:
        """Hang up."""
        if caller not in self._all:
            return
        if caller.events:
            self._selector.unregister(caller.link)
        self._free_room(caller, time.monotonic_ns(), 0)
        del self._all[caller]
        caller.close()

    def _carefully(self, caller: Caller, what: Callable[[Caller], None]) -> None:
        """Do something for one caller: where it goes wrong, that one is parted and no other."""
        if caller not in self._all:
            return
        try:
            what(caller)
        except OSError:  # it is gone
            self.part(caller)
        except Exception as fault:
            self._failed(fault)
            self.part(caller)

    def _let_in(self, caller: Caller) -> None:
        if len(self._all) < self._limits.clients - self.kept(caller).clients:
            self._all[caller] = None
            return
        caller.put(_refusal(_FULL))
        with contextlib.suppress(OSError):
            caller.send()
        caller.close()

    def _see_to(self, caller: Caller, now: int) -> None:
        if caller.wants_room:
            self._give_room(caller, now)
        if fault := self._line_fault(caller, now):
            self.tell(caller, _refusal(fault))
            self.dismiss(caller, now)
        caller.send()
        if caller.has_said_all:
            self.part(caller)
        if caller in self._all:
            self._look_out_for(caller)

    def _look_out_for(self, caller: Caller) -> None:
        """Tell the selector what of it is to end a `wait`."""
        read = selectors.EVENT_READ if caller.room else 0
        events = read | (selectors.EVENT_WRITE if caller.blocked else 0)
        if events != caller.events:
            # One that is neither is not asked after at all: epoll tells of a hang-up regardless.
            if caller.events and events:
                self._selector.modify(caller.link, events, caller)
            elif events:
                self._selector.register(caller.link, events, caller)
            else:
                self._selector.unregister(caller.link)
            caller.events = events

    def _line_fault(self, caller: Caller, now: int) -> str:
        """Why the line that it has begun will not be taken, if so."""
        if caller.says_too_much:
            return f"A line has at most {self._limits.line_bytes} bytes; this one has more."
        if caller.ends_halfway:
            return "The last line has no end, and is not obeyed: expected a newline."
        if caller.long_until is not None:
            if now >= caller.long_until:
                seconds = self._limits.long_line_ns / SECOND
                return f"A long line, and those before it, must be over within {seconds:g} s."
            self.look_again_at(caller.long_until)
        return ""

    def _give_room(self, caller: Caller, now: int) -> None:
        """Let it go on with a long line, if there is room."""
        if self._long_lines.take(now, self.kept(caller).long_lines):
            caller.long_until = now + self._limits.long_line_ns
        elif (due := self._long_lines.due()) is not None:
            self.look_again_at(max(due, now + THROTTLED_NS))

    def _free_room(self, caller: Caller, now: int, read_bytes: int) -> None:
        if caller.long_until is not None:
            caller.long_until = None
            self._long_lines.give_back(now, read_bytes)
            self.look_again_at(now)  # others may wait for it

    def _make_room(self, caller: Caller, size: int) -> bool:
        """Part whoever reads too little for so many bytes more; False where it is this one."""
        if caller.unsent_bytes + size > self._limits.unsent_bytes:
            self.part(caller)
            return False
        while not self.fits(caller, size):
            slow = [one for one in self._all if one.unsent_bytes and (caller.ours or not one.ours)]
            slowest = max(slow, key=lambda one: one.unsent_bytes, default=caller)
            self.part(slowest)
            if slowest is caller:
                return False
        return True


def _refusal(says: str) -> bytes:
    return line_of({"ok": False, "says": says})
