"""The page's rehearsals: one at a time, each in a process beside it that can be ended."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from controller.page.rehearsal_asked import RehearsalForm
from controller.page.rehearsal_process import MOST_SECONDS, plain_of_script
from controller.rehearsal.script import Script

_MORE_SECONDS = 10  # than the process gives itself
_MOST_ANSWER = 20 << 20  # bytes


@dataclass
class Rehearsal:
    """One rehearsal, under way or done."""

    who: str
    form: RehearsalForm  # what was asked for
    began: float  # time.monotonic()
    process: subprocess.Popen[bytes]
    result: dict[str, Any] | None = None  # as the process says it
    says: str = ""  # why there is no result
    done: threading.Event = field(default_factory=threading.Event)


class Rehearsals:
    """Starts rehearsals, and keeps the last one."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last: Rehearsal | None = None

    @property
    def last(self) -> Rehearsal | None:
        """The one under way, or the one that was."""
        return self._last

    def start(
        self, who: str, form: RehearsalForm, path: str, files: Mapping[str, str], script: Script
    ) -> Rehearsal | None:
        """Begin one; None where another is under way."""
        asked = {"path": path, "files": dict(files), "script": plain_of_script(script)}
        with self._lock:
            if self._last is not None and not self._last.done.is_set():
                return None
            process = subprocess.Popen(
                [sys.executable, "-m", "controller.page.rehearsal_process"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
            new = self._last = Rehearsal(who, form, time.monotonic(), process)
        text = json.dumps(asked).encode()
        threading.Thread(target=_followed, args=(new, text), daemon=True).start()
        return new

    def end(self) -> None:
        """End the one under way."""
        last = self._last
        if last is not None and not last.done.is_set():
            last.says = "It was ended."
            last.process.kill()


def _followed(one: Rehearsal, text: bytes) -> None:
    """See a rehearsal to its end, whatever that is."""
    try:
        out, _ = one.process.communicate(text, MOST_SECONDS + _MORE_SECONDS)
        if one.process.returncode == 0 and len(out) <= _MOST_ANSWER:
            one.result = json.loads(out)
        elif not one.says:
            one.says = _why(one)
    except (subprocess.TimeoutExpired, OSError, ValueError):
        one.process.kill()
        one.process.wait()
        one.says = one.says or _why(one)
    finally:
        one.done.set()


def _why(one: Rehearsal) -> str:
    if time.monotonic() - one.began >= MOST_SECONDS:
        return f"It was not done within {MOST_SECONDS // 60} minutes; ask for fewer days."
    return "It ended with a fault of the program: understudy rehearse may say more."
