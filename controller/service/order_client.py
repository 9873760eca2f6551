"""Giving orders to a running daemon: what the command line and the page speak through."""

from __future__ import annotations

import contextlib
import errno
import grp
import json
import os
import socket
import struct
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from controller.service.order_wire import MOST_ANSWER_BYTES, MOST_LINE_BYTES, SOCKET, line_of

_CHUNK_BYTES = 1 << 16
_MOST_FILES = 4  # that come with one answer; the kernel closes what is more
_HOW = "--runtime or UNDERSTUDY_RUNTIME names its runtime folder"


class NoDaemon(Exception):
    """No daemon answers; in words. `may_run`: one may be there nevertheless."""

    def __init__(self, says: str, *, may_run: bool) -> None:
        super().__init__(says)
        self.may_run = may_run


class Refused(Exception):
    """The daemon said no; its words. `answer` is all that it said."""

    def __init__(self, answer: dict[str, Any]) -> None:
        super().__init__(str(answer.get("says", "")))
        self.answer = answer


class OrderClient:
    """One connection, for one thread. Every method raises `NoDaemon` where the daemon is gone."""

    def __init__(self, runtime: Path, seconds: float = 10.0) -> None:
        """Speak to the daemon of a runtime folder, waiting so long for each answer unless told.

        Raise `NoDaemon` where there is none, or this user may not speak to it.
        """
        self._path = runtime / SOCKET
        self._seconds = seconds
        self._number = 0
        self._heard = bytearray()
        self._files: list[int] = []
        self._newest: dict[str, Any] | None = None  # state of which a watcher was not told yet
        self._link = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            # With a timeout of Python's, connect(2) would not wait for a daemon that is busy.
            self._link.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, _timeval(seconds))
            self._link.connect(str(self._path))
        except OSError as fault:
            self._link.close()
            raise _no_daemon(self._path, fault) from None

    def __enter__(self) -> OrderClient:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Hang up."""
        self._link.close()
        self._close_files()

    def ask(self, order: str, /, *, seconds: float | None = None, **keys: Any) -> dict[str, Any]:
        """Give one order; the whole answer. Raise `Refused` where the daemon says no.

        `hold` is answered only when an impulse in progress has ended: give it 30 seconds.
        """
        try:
            return self._ask(order, seconds, keys)
        finally:
            self._close_files()

    def take_file(
        self, order: str, /, *, seconds: float | None = None, **keys: Any
    ) -> tuple[dict[str, Any], int]:
        """Give an order whose answer comes with an open file; the answer, and the descriptor."""
        try:
            answer = self._ask(order, seconds, keys)
            if not self._files:
                raise self._gone("answered without the file that belongs to it")
            return answer, self._files.pop(0)
        finally:
            self._close_files()

    def watch(self) -> Iterator[dict[str, Any]]:
        """The state now, and again whenever it has changed, for ever. Raise `Refused`."""
        self._newest = None
        self.ask("watch")
        while True:
            while self._newest is None:
                words = self._next_words(None)
                self._newest = words.get("state", self._newest)
            state, self._newest = self._newest, None
            yield state

    def _ask(self, order: str, seconds: float | None, keys: dict[str, Any]) -> dict[str, Any]:
        deadline = time.monotonic() + (self._seconds if seconds is None else seconds)
        self._number += 1
        line = line_of({"order": order, "id": self._number, **keys})
        if len(line) > MOST_LINE_BYTES:
            says = f"{order}: too long for the daemon: {len(line)} bytes, at most {MOST_LINE_BYTES}"
            raise Refused({"ok": False, "says": says})
        self._send(line, deadline)
        while True:
            words = self._next_words(deadline)
            if "ok" not in words:
                self._newest = words.get("state", self._newest)
            elif words.get("id", self._number) != self._number:
                self._close_files()  # the answer to an order for which nobody waited any more
            elif words["ok"] is True:
                return words
            else:  # with our number, or with none: it parts from us, and says why
                raise Refused(words)

    def _send(self, line: bytes, deadline: float) -> None:
        try:
            self._link.settimeout(max(0.001, deadline - time.monotonic()))
            self._link.sendall(line)
        except TimeoutError:
            raise self._gone("does not listen") from None
        except OSError:
            pass  # it hung up, and has perhaps said why

    def _next_words(self, deadline: float | None) -> dict[str, Any]:
        searched = 0
        while (end := self._heard.find(b"\n", searched)) < 0:
            searched = len(self._heard)
            if searched > MOST_ANSWER_BYTES:
                raise self._gone("says more than a daemon of this program would")
            self._hear(deadline)
        line = bytes(self._heard[:end])
        del self._heard[: end + 1]
        try:
            words = json.loads(line)
        except ValueError:
            words = None
        if not isinstance(words, dict):
            raise self._gone("says what a daemon of this program would not")
        return words

    def _hear(self, deadline: float | None) -> None:
        seconds = None if deadline is None else max(0.001, deadline - time.monotonic())
        try:
            self._link.settimeout(seconds)
            data, files, _, _ = socket.recv_fds(self._link, _CHUNK_BYTES, _MOST_FILES)
        except TimeoutError:
            raise self._gone("has not answered in time; whether it obeyed is not known") from None
        except OSError:
            data, files = b"", []
        for file in files:
            os.set_inheritable(file, False)  # recv_fds of CPython 3.11 loses MSG_CMSG_CLOEXEC
        self._files += files
        if not data:
            raise self._gone("went away without an answer", may_run=False)
        self._heard += data

    def _gone(self, what: str, *, may_run: bool = True) -> NoDaemon:
        return NoDaemon(f"The daemon at {self._path} {what}.", may_run=may_run)

    def _close_files(self) -> None:
        for file in self._files:
            with contextlib.suppress(OSError):
                os.close(file)
        self._files.clear()


def _timeval(seconds: float) -> bytes:
    return struct.pack("@ll", int(seconds), int(seconds % 1 * 1e6))


def _no_daemon(path: Path, fault: OSError) -> NoDaemon:
    """Why nobody could be spoken to, and what to do."""
    if fault.errno in (errno.ENOENT, errno.ENOTDIR, errno.ECONNREFUSED):
        return NoDaemon(f"Nobody answers at {path}. Is the daemon running? {_HOW}.", may_run=False)
    if isinstance(fault, PermissionError):
        return NoDaemon(f"{path}: this user may not give orders; {_who_may(path)}.", may_run=True)
    if isinstance(fault, TimeoutError | BlockingIOError):
        return NoDaemon(f"The daemon at {path} does not listen.", may_run=True)
    return NoDaemon(f"{path}: {fault.strerror or fault}. {_HOW}.", may_run=True)


def _who_may(path: Path) -> str:
    """Who may give orders there: the owner and root, and the group if it has one of its own."""
    for place in (path, path.parent):
        with contextlib.suppress(OSError, KeyError):
            is_ = place.stat()
            if is_.st_mode & 0o020 or (place == path.parent and is_.st_mode & 0o010):
                return f"members of the group {grp.getgrgid(is_.st_gid).gr_name} may"
    return "its owner and root may, and the group that `understudy run` was told, if any"
