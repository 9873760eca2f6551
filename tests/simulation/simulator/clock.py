"""The machine's clocks: the system's, the monotonic, the RTC on its battery, and who vouches.

The system's clock is outside time plus `shift`; right is outside time plus `truth`, for a crystal
drifts. The kernel vouches while a time server keeps the clock (a wrong one does too); setting it by
hand takes that word back. The RTC vouches where the file trusts it and clock and RTC agree to 3 s,
and neither is before the newest event in the store.
"""

from __future__ import annotations

from simulator.words import DAY, SECOND

YEAR_NS = 365 * DAY
RTC_AGREES_NS = 3 * SECOND


class Clock:
    def __init__(self, start: int) -> None:
        self.boots = 0
        self.mono_zero = 0  # outside time of the boot
        self.shift = 0
        self.truth = 0
        self.synced = False  # a time server keeps the system's clock, says the kernel
        self.rtc: int | None = 0  # RTC − outside time; None: it began again in 1970
        self.rtc_died = start

    @property
    def boot(self) -> str:
        return f"boot-{self.boots}"

    def rtc_utc(self, t: int) -> int:
        return t - self.rtc_died if self.rtc is None else t + self.rtc

    def start(self, t: int) -> None:
        """The machine starts: the kernel takes the RTC's word for what it is worth."""
        self.boots += 1
        self.mono_zero = t
        self.shift = self.rtc_utc(t) - t
        self.synced = False

    def vouched(self, t: int, trust_rtc: bool, newest_stored: int) -> bool:
        if self.synced:
            return True
        if not trust_rtc or self.rtc is None:
            return False
        says = self.rtc_utc(t)
        agrees = abs(t + self.shift - says) <= RTC_AGREES_NS
        return agrees and min(says, t + self.shift) >= newest_stored
