"""One connection to the daemon's socket: who it is, what it said, what is to be sent to it."""

from __future__ import annotations

import contextlib
import os
import pwd
import socket
import struct
from collections import deque

from controller.service.order_limits import Limits, Pace

_CREDENTIALS = struct.Struct("iII")  # struct ucred: process, user, group (unix(7))
_MOST_CHUNKS = 16  # of a long line, heard in one go


class Owed:
    """An answer that a caller waits for."""

    def __init__(self, caller: Caller, id: int | None) -> None:
        self.caller = caller
        self.id = id
        self.given = False


class Caller:
    """One connection. Its methods never wait; they raise `OSError` where the other end is gone."""

    def __init__(self, link: socket.socket, limits: Limits) -> None:
        link.setblocking(False)
        self.link = link
        self._limits = limits
        packed = link.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, _CREDENTIALS.size)
        self.uid: int = _CREDENTIALS.unpack(packed)[1]
        self.who = _user_name(self.uid)
        self.ours = self.uid in (0, os.geteuid())  # may use what is kept
        self.pace = Pace(limits.orders_a_second, limits.orders_at_once)
        self.events = 0  # what the selector looks out for
        self.ended = False  # nothing more is heard: it has said all, or too much
        self.owed: set[Owed] = set()
        self.watches = False
        self.seen = -1  # the newest state that it was sent, by number
        self.next_state_at = 0  # mono from which it may be sent another
        self.blocked = False  # it does not take more just now
        self.unsent_bytes = 0
        self._unsent: deque[tuple[memoryview, int | None]] = deque()  # and a file that goes along
        self._heard = bytearray()
        self._line_end = -1  # of the first line in `_heard`, where it is whole
        self.long_until: int | None = None  # mono; until then it has room for a long line

    # ── what it says ─────────────────────────────────────────────────────────────────────────────

    @property
    def has_line(self) -> bool:
        """Whether a whole line was heard. No more is until it is taken."""
        return self._line_end >= 0

    @property
    def says_too_much(self) -> bool:
        """Whether it has begun a line that is longer than any may be."""
        return not self.has_line and len(self._heard) > self._limits.line_bytes

    @property
    def ends_halfway(self) -> bool:
        """Whether its last line has no end, and will not get one."""
        return self.ended and bool(self._heard) and not self.has_line

    @property
    def wants_room(self) -> bool:
        """Whether it has begun a line that is longer than a short one."""
        return not (self.ended or self.has_line) and (
            self.long_until is None and len(self._heard) >= self._limits.short_line_bytes
        )

    @property
    def has_said_all(self) -> bool:
        """Whether nothing is to be heard of it any more, nor told to it."""
        said = self.ended and not self._heard
        return said and not (self.owed or self.unsent_bytes or self.watches)

    @property
    def room(self) -> int:
        """How many bytes more may be heard at once."""
        if self.ended or self.has_line:
            return 0
        short = self._limits.short_line_bytes
        if self.long_until is None:
            return max(0, short - len(self._heard))
        # By short pieces, so that what comes after the line needs no room for a long one.
        return min(short, self._limits.line_bytes + 1 - len(self._heard))

    def hear(self) -> None:
        """Take what has come, up to the end of a line."""
        for _ in range(_MOST_CHUNKS):
            if self.room == 0:
                return
            try:
                data = self.link.recv(self.room)
            except BlockingIOError:
                return
            if not data:
                self.ended = True
                return
            searched = len(self._heard)
            self._heard += data
            self._line_end = self._heard.find(b"\n", searched)

    def take_line(self) -> bytes:
        """The first line, without its end."""
        assert self.has_line, "a line is taken once it is whole"
        line = bytes(self._heard[: self._line_end])
        self._heard = self._heard[self._line_end + 1 :]  # a new one: the room is given back
        self._line_end = self._heard.find(b"\n")
        return line

    def dismiss(self) -> None:
        """Hear nothing more of it; what it is owed is still sent."""
        self.ended, self.watches = True, False
        self._heard.clear()
        self._line_end = -1

    # ── what it is told ──────────────────────────────────────────────────────────────────────────

    def put(self, data: bytes, file: int | None = None) -> None:
        """Have it sent, and a file with its first byte, which is closed then."""
        self._unsent.append((memoryview(data), file))
        self.unsent_bytes += len(data)

    def send(self) -> None:
        """Send what it takes just now."""
        while self._unsent and not self.blocked:
            data, file = self._unsent[0]
            try:
                if file is None:
                    sent = self.link.send(data)
                else:
                    sent = socket.send_fds(self.link, [data], [file])
            except BlockingIOError:
                self.blocked = True
                return
            if file is not None:
                os.close(file)
            self.unsent_bytes -= sent
            if sent == len(data):
                self._unsent.popleft()
            else:
                self._unsent[0] = (data[sent:], None)

    def close(self) -> None:
        """Hang up; what is unsent is lost."""
        self.link.close()
        for _, file in self._unsent:
            if file is not None:
                with contextlib.suppress(OSError):
                    os.close(file)
        self._unsent.clear()
        self.unsent_bytes = 0
        self.dismiss()


def _user_name(uid: int) -> str:
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return f"uid {uid}"
