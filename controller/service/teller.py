"""Telling a fault onwards: a program that the file names is run with the fault's words.

Whatever that program does, bells and dials do not wait for it: it is run from a thread of its own,
one at a time and for a limited time, and telling it something is no more than a place in a queue.
"""

from __future__ import annotations

import os
import select
import signal
import subprocess
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from typing import Literal, NamedTuple

MOST_WAITING = 32
MOST_SECONDS = 60.0  # of one run; a choice
_TO_END_SECONDS = 2.0  # from being asked to end to being ended; a choice
_TO_VANISH_SECONDS = 1.0  # what is killed is gone by then, unless the kernel holds it; a choice
_LOOK_SECONDS = 0.1
_PAUSE_SECONDS = 0.01  # after some output: a flood of it must not take the engine's time
_CHUNK = 1 << 16
_MOST_WORDS = 4_000  # letters of one fault
_MOST_SAID = 500  # letters of what a program says
_MOST_UNSTARTED = 100  # faults remembered as told to nobody
_SYSTEMD = ("NOTIFY_SOCKET", "WATCHDOG_PID", "WATCHDOG_USEC")  # for the daemon alone (sd_notify(3))

Change = Literal["begins", "ends"]


class _Fault(NamedTuple):
    name: str
    change: Change
    words: str


class Teller:
    """Runs `command` for each fault that begins or ends; `say` has, in words, what failed in that.

    `say` is called on the teller's own thread. A run may take `most_seconds`, with all that it
    starts; then it is ended.
    """

    def __init__(
        self,
        command: tuple[str, ...],
        building: str,
        say: Callable[[str], None],
        most_seconds: float = MOST_SECONDS,
    ) -> None:
        self._command = command
        self._building = building
        self._say = say
        self._most_seconds = most_seconds
        self._waiting: deque[_Fault] = deque()
        self._dropped = 0
        self._unstarted: set[str] = set()  # faults of which it was said that nobody was told
        self._changed = threading.Condition()
        self._closed = False
        self._hurry = threading.Event()  # no time is left: what runs is ended, what waits dropped
        self._thread = threading.Thread(target=self._work, name="teller", daemon=True)
        self._thread.start()

    def tell(self, name: str, change: Change, words: str) -> None:
        """Have the program told of a fault. Returns at once, whatever the program does.

        While 32 wait, or once it is closed, it is dropped; how many were is said later.
        """
        with self._changed:
            if self._closed or len(self._waiting) >= MOST_WAITING:
                self._dropped += 1
                return
            self._waiting.append(_Fault(name, change, words[:_MOST_WORDS]))
            self._changed.notify()

    def close(self, seconds: float) -> None:
        """Tell what waits, as far as that takes no more than so long; then end what still runs."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join(max(0.0, seconds - _TO_VANISH_SECONDS))
        self._hurry.set()
        self._thread.join(_TO_VANISH_SECONDS)

    # ── on its own thread ────────────────────────────────────────────────────────────────────

    def _work(self) -> None:
        while (fault := self._next()) is not None:
            try:
                process = _started(self._command, fault, self._building)
            except (OSError, ValueError) as error:  # ValueError: what no argument may hold
                self._not_started(fault, error)
            else:
                self._unstarted.clear()
                if words := _watched(process, self._most_seconds, self._hurry):
                    self._say(f"{self._command[0]}, told of the fault {fault.name}, {words}")

    def _next(self) -> _Fault | None:
        """The next fault to tell of; None once it is closed and nothing waits."""
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._closed)
            if self._hurry.is_set():
                self._dropped += len(self._waiting)
                self._waiting.clear()
            fault = self._waiting.popleft() if self._waiting else None
            dropped, self._dropped = self._dropped, 0
        if dropped:
            many = "1 fault" if dropped == 1 else f"{dropped} faults"
            self._say(
                f"{self._command[0]} was not told that {many} began or ended: it takes too long."
            )
        return fault

    def _not_started(self, fault: _Fault, error: OSError | ValueError) -> None:
        """Said once a fault, until the program can be run again."""
        if fault.name in self._unstarted or len(self._unstarted) >= _MOST_UNSTARTED:
            return
        self._unstarted.add(fault.name)
        why = getattr(error, "strerror", None) or error
        self._say(
            f"Nobody is told of the fault {fault.name}: {self._command[0]} cannot be run: {why}."
        )


# ── one run ──────────────────────────────────────────────────────────────────────────────────────


def _started(command: tuple[str, ...], fault: _Fault, building: str) -> subprocess.Popen[bytes]:
    """The program on its way, in a process group of its own. OSError or ValueError if it is not.

    Its words lie ready in memory, so that nobody waits for it to read them.
    """
    inherited = {name: value for name, value in os.environ.items() if name not in _SYSTEMD}
    with open(os.memfd_create("fault"), "wb") as words:
        words.write(f"{fault.words}\n".encode(errors="replace"))
        words.seek(0)
        return subprocess.Popen(
            command,
            stdin=words,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            cwd="/",  # it holds no disk busy
            env={
                **inherited,
                "UNDERSTUDY_FAULT": fault.name,
                "UNDERSTUDY_CHANGE": fault.change,
                "UNDERSTUDY_BUILDING": building,
            },
            close_fds=True,
            start_new_session=True,
        )


def _watched(process: subprocess.Popen[bytes], seconds: float, hurry: threading.Event) -> str:
    """Wait for its end, or end it, and all of its group with it. What failed; "" if nothing did."""
    tail = bytearray()
    in_time = _ends(process, tail, seconds, hurry)
    if not in_time:
        _signal_group(process, signal.SIGTERM)
        _ends(process, tail, _TO_END_SECONDS, hurry)
    _signal_group(process, signal.SIGKILL)
    assert process.stdout is not None, "its output was asked for"
    process.stdout.close()
    try:
        code = process.wait(_TO_VANISH_SECONDS)
    except subprocess.TimeoutExpired:
        return f"did not end within {seconds:g} s, and goes on though it was killed."
    said = _plain(tail)
    if in_time:
        how = f"exit code {code}" if code > 0 else f"signal {-code}"
        return f"failed ({how}){said}" if code else ""
    if hurry.is_set():
        return f"was ended early: the daemon ends, or tells another{said}"
    return f"did not end within {seconds:g} s and was ended{said}"


def _ends(
    process: subprocess.Popen[bytes], tail: bytearray, seconds: float, hurry: threading.Event
) -> bool:
    """Whether it ends so soon, and whatever else has its output. Keeps the last of that in `tail`.

    It is not reaped yet: as long as it is not, no other process group can have its number.
    """
    assert process.stdout is not None, "its output was asked for"
    output = process.stdout.fileno()
    poll = select.poll()
    poll.register(output, select.POLLIN)
    still_open = True
    until = time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0 and not hurry.is_set():
        if not still_open:
            if os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None:
                return True
            hurry.wait(min(left, _LOOK_SECONDS))
        elif poll.poll(1000 * min(left, _LOOK_SECONDS)):
            chunk = os.read(output, _CHUNK)
            still_open = bool(chunk)
            tail += chunk
            del tail[: -4 * _MOST_SAID]  # UTF-8 has at most four bytes a letter
            if still_open:
                hurry.wait(_PAUSE_SECONDS)
    return False


def _signal_group(process: subprocess.Popen[bytes], number: signal.Signals) -> None:
    with suppress(OSError):  # it may have taken another user's rights
        os.killpg(process.pid, number)


def _plain(tail: bytearray) -> str:
    """The last of what it said, on one line and without what a terminal would obey."""
    words = " ".join(tail.decode(errors="replace").split())
    told = "".join(letter if letter.isprintable() else "·" for letter in words)
    return f": {told[-_MOST_SAID:].strip()}" if told else "."
