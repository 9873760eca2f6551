"""A desk that a test holds in its hands, and plain connections to the socket before it."""

from __future__ import annotations

import contextlib
import gc
import json
import os
import socket
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from controller.service.order_limits import LIMITS, Limits
from controller.service.order_server import OrderServer, Reply
from controller.service.order_wire import SOCKET, line_of
from controller.service.orders import Words

PATIENT_SECONDS = 10.0
NOBODY = 65534
STOP = {"order": "stop"}
AS_ROOT = pytest.mark.skipif(os.geteuid() != 0, reason="only root becomes another user")
Answered = Callable[[Reply], None]


def at_once(words: Words) -> Reply | None:
    return Reply(True, f"Done: {words.order}.")


def never(words: Words) -> Reply | None:
    return None


class FakeDesk:
    """Answers as it is told, and remembers what it was given."""

    def __init__(self) -> None:
        self.answer: Callable[[Words], Reply | None] = at_once  # None: it is answered later
        self.given: list[tuple[Words, str]] = []
        self.owed: list[Answered] = []
        self.count = 0
        self.drawn = 0
        self.more: dict[str, Any] = {}
        self.news = threading.Condition()

    def state(self) -> dict[str, Any]:
        self.drawn += 1
        return {"count": self.count, **self.more}

    def give(self, words: Words, who: str, answered: Answered) -> None:
        with self.news:
            self.given.append((words, who))
            self.news.notify_all()
        reply = self.answer(words)
        if reply is None:
            with self.news:
                self.owed.append(answered)
                self.news.notify_all()
        else:
            answered(reply)

    def wait(self, true: Callable[[], bool]) -> None:
        """Until something about what was given is true."""
        with self.news:
            assert self.news.wait_for(true, PATIENT_SECONDS), "nothing of the kind came"


class Talk:
    """One plain connection."""

    def __init__(self, link: socket.socket | Path) -> None:
        if isinstance(link, Path):
            path, link = link, socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            link.connect(str(path))
        link.settimeout(PATIENT_SECONDS)
        self.link = link
        self._lines = link.makefile("rb")

    def say(self, *lines: bytes | dict[str, Any]) -> None:
        for line in lines:
            self.link.sendall(line_of(line) if isinstance(line, dict) else line + b"\n")

    def hear(self) -> dict[str, Any]:
        line = self._lines.readline()
        assert line.endswith(b"\n"), "the daemon hung up"
        words = json.loads(line)
        assert isinstance(words, dict)
        return words

    def ask(self, line: bytes | dict[str, Any]) -> dict[str, Any]:
        self.say(line)
        return self.hear()

    def hung_up(self) -> bool:
        """Whether nothing more comes; waits for it."""
        try:
            return self._lines.readline() == b""
        except ConnectionError:
            return True

    def is_silent(self, seconds: float) -> bool:
        """Whether nothing comes for so long. (The absence of words takes time to see.)"""
        self.link.settimeout(seconds)
        try:
            return not self.link.recv(1, socket.MSG_PEEK)
        except TimeoutError:
            return True
        finally:
            self.link.settimeout(PATIENT_SECONDS)

    def close(self) -> None:
        self._lines.close()
        self.link.close()


class Counter:
    """A server with its desk, and whoever talks to it."""

    def __init__(
        self,
        folder: Path,
        limits: Limits = LIMITS,
        group: str | None = None,
        page: int | None = None,
    ) -> None:
        self.desk = FakeDesk()
        self.path = folder / SOCKET
        self.failed: list[BaseException] = []
        self.server = OrderServer(
            self.path, self.desk, group, page=page, failed=self.failed.append, limits=limits
        )
        self._talks: list[Talk] = []

    def talk(self, link: socket.socket | None = None) -> Talk:
        talk = Talk(self.path if link is None else link)
        self._talks.append(talk)
        return talk

    def close(self) -> None:
        for talk in self._talks:
            talk.close()
        self.server.close(0)


@contextlib.contextmanager
def counters() -> Iterator[Callable[..., Counter]]:
    """Opens servers with limits, in a folder of their own; nothing unforeseen is met there."""
    opened: list[Counter] = []
    with tempfile.TemporaryDirectory() as folder:  # short, as a socket's address is not long
        os.chmod(folder, 0o755)

        def opens(*, page: int | None = None, **limits: Any) -> Counter:
            counter = Counter(Path(folder), LIMITS._replace(**limits), page=page)
            counter.server.start()
            opened.append(counter)
            return counter

        yield opens
        for counter in opened:
            counter.close()
            assert counter.failed == []


def forgive(counter: Counter, words: str) -> None:
    """The one fault that a test brought about."""
    assert words in repr(counter.failed.pop())


def parted(talk: Talk) -> bool:
    """Whether the other end is gone, though there may be more to read."""
    try:
        talk.link.send(b"\n")
    except (BrokenPipeError, ConnectionResetError):
        return True
    return False


def links_as(uid: int, path: Path, count: int, groups: tuple[int, ...] = ()) -> list[socket.socket]:
    """Connections that another user has made: a child becomes that user, and passes them on.

    Fewer than `count` where it was not let in.
    """
    ours, theirs = socket.socketpair()

    def connect() -> None:
        for _ in range(count):
            link = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            link.connect(str(path))
            socket.send_fds(theirs, [b"."], [link.fileno()])

    child = _as_user(uid, groups, connect)
    theirs.close()
    links = []
    while True:
        data, files, _, _ = socket.recv_fds(ours, 1, 1)
        if not data:
            break
        links += [socket.socket(fileno=file) for file in files]
    os.waitpid(child, 0)
    ours.close()
    return links


def said_as(uid: int, say: Callable[[], str]) -> str:
    """What `say` comes to where another user does it; "" where it fails."""
    reading, writing = os.pipe()
    child = _as_user(uid, (), lambda: os.write(writing, say().encode()))
    os.close(writing)
    with os.fdopen(reading) as said:
        says = said.read()
    os.waitpid(child, 0)
    return says


def _as_user(uid: int, groups: tuple[int, ...], do: Callable[[], object]) -> int:
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            os.setgroups(groups)
            os.setgid(uid)
            os.setuid(uid)
            do()
        os._exit(0)
    return child


def until(true: Callable[[], bool], seconds: float = PATIENT_SECONDS) -> None:
    """Wait for what tells nobody that it has happened."""
    give_up = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < give_up, "it has not come true"
        time.sleep(0.005)


def open_files() -> int:
    return len(os.listdir("/proc/self/fd"))


@contextlib.contextmanager
def no_file_left_open() -> Iterator[None]:
    gc.collect()
    before = open_files()
    yield
    gc.collect()
    until(lambda: open_files() <= before)
