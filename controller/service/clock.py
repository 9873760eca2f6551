"""What is known of the system's clock: who vouches for it, and how wrong it may be by now."""

from __future__ import annotations

import time
from typing import Any, Literal

from controller.engine.contract import Now
from controller.engine.state import State
from controller.engine.trust import as_vouched
from controller.timekeeping.error import Correction, error_now, last_correction
from controller.timekeeping.kernel import KernelWord, kernel_word
from controller.timekeeping.rtc import read_rtcs, rtc_word

By = Literal["kernel", "rtc", "person", "earlier", "as-if-right", "nobody"]
_RTC_EVERY_NS = 10_000_000_000  # a crystal does not change its mind sooner


class ClockWatch:
    """Asked once a second by the engine's thread, and read by others."""

    def __init__(self, *, trust_rtc: bool, newest_stored_utc: int, as_if_right: bool) -> None:
        """`newest_stored_utc`: an RTC that says less is not believed."""
        self.trust_rtc = trust_rtc
        self._newest_stored_utc = newest_stored_utc
        self._as_if_right = as_if_right
        self._kernel: KernelWord = kernel_word()
        self._correction: Correction | None = None
        self._rtc_vouches = False
        self._rtc_looked = 0
        self.look()

    def look(self) -> None:
        """Ask the kernel, and the RTC where it counts."""
        mono = time.monotonic_ns()
        self._kernel = kernel_word()
        self._correction = last_correction(self._correction, self._kernel, mono)
        if self._kernel.synchronised or not self.trust_rtc:
            self._rtc_vouches = False
        elif not self._rtc_looked or mono - self._rtc_looked >= _RTC_EVERY_NS:
            self._rtc_looked = mono
            word = rtc_word(read_rtcs(), True, time.time_ns(), self._newest_stored_utc)
            self._rtc_vouches = word.vouches

    def vouched(self) -> bool:
        """Whether somebody vouches for the clock at this instant."""
        return self._as_if_right or self._kernel.synchronised or self._rtc_vouches

    def now(self, state: State) -> Now:
        """This instant, trusted where somebody vouches for the clock or did in this boot."""
        now = Now(time.time_ns(), time.monotonic_ns(), state.boot, self.vouched())
        return as_vouched(state, now)

    def picture(self, state: State, now: Now) -> dict[str, Any]:
        """Who vouches for the clock and how wrong it may be, plain enough for JSON."""
        by = self._by(state, now)
        error = None if by in ("nobody", "person", "as-if-right") else self._error_ns(now.mono)
        return {
            "trusted": now.trusted,
            "by": by,
            "error_seconds": None if error is None else error / 1e9,
            "says": self._kernel.why,
        }

    def _by(self, state: State, now: Now) -> By:
        if self._kernel.synchronised:
            return "kernel"
        if self._as_if_right:
            return "as-if-right"
        if self._rtc_vouches:
            return "rtc"
        if not now.trusted or state.word is None:
            return "nobody"
        return "person" if state.word.who else "earlier"

    def _error_ns(self, mono: int) -> int | None:
        if self._kernel.synchronised:
            return self._kernel.error_ns
        if self._correction is None:
            return None
        return error_now(self._correction.error_ns, self._correction.mono, mono)
