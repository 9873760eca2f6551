"""The kernel's word on its clock, by one `adjtimex` that changes nothing (adjtimex(2)).

The kernel lets `maxerror` grow by 500 µs a second (MAXFREQ) from the last correction, and takes its
word back (STA_UNSYNC) at 16 s (NTP_PHASE_LIMIT, `kernel/time/ntp.c`). A person or a program that
sets the clock takes it back at once. Some time daemons leave STA_UNSYNC clear with `maxerror` at
its limit, so both are asked.
"""

from __future__ import annotations

import ctypes
import os
from typing import Literal, NamedTuple

from controller.building.durations import DAY, HOUR, MINUTE, SECOND

STA_INS = 0x0010
STA_DEL = 0x0020
STA_UNSYNC = 0x0040
TIME_ERROR = 5  # STA_UNSYNC, or a fault of the clock's hardware or of its PPS signal
KERNEL_LIMIT_NS = 16 * SECOND
# A choice. It is what 8,000 s without a correction come to: nearly four of the longest waits
# between two questions of systemd-timesyncd (2,048 s, timesyncd.conf(5)), so no single answer that
# is lost makes the word waver; and bells are not called right while they may be 16 s off.
MOST_ERROR_NS = 4 * SECOND

Leap = Literal["", "inserted", "deleted"]


class Timex(ctypes.Structure):
    """`struct timex` as the C library's symbol `adjtimex` takes it.

    On 64-bit machines that is the kernel's own. On 32-bit ones it is the older layout with `long`,
    whatever the size of `time_t` that programs are compiled for: those with 64-bit time are
    compiled against another symbol. `time` may not hold the date there after 2038; nothing here
    reads it.
    """

    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("constant", ctypes.c_long),
        ("precision", ctypes.c_long),
        ("tolerance", ctypes.c_long),
        ("time_sec", ctypes.c_long),
        ("time_usec", ctypes.c_long),
        ("tick", ctypes.c_long),
        ("ppsfreq", ctypes.c_long),
        ("jitter", ctypes.c_long),
        ("shift", ctypes.c_int),
        ("stabil", ctypes.c_long),
        ("jitcnt", ctypes.c_long),
        ("calcnt", ctypes.c_long),
        ("errcnt", ctypes.c_long),
        ("stbcnt", ctypes.c_long),
        ("tai", ctypes.c_int),
        ("reserved", ctypes.c_int * 11),
    )


class KernelWord(NamedTuple):
    """What the kernel says of its clock."""

    synchronised: bool  # somebody keeps it, to within 4 s
    error_ns: int  # it is wrong by no more than this; 16 s where nobody keeps it
    leap: Leap = ""  # a second to be inserted or deleted at the end of this UTC day
    tai_seconds: int = 0  # TAI − UTC; 0 where nobody has told the kernel
    why: str = ""  # why it is not called synchronised, for people


_libc = ctypes.CDLL(None, use_errno=True)


def kernel_word() -> KernelWord:
    """Ask the kernel. Never raises: without an answer nothing is synchronised."""
    timex = Timex()  # modes = 0: a question, which any user may ask
    state = int(_libc.adjtimex(ctypes.byref(timex)))
    if state < 0:
        return _refused(ctypes.get_errno())
    return word_of(state, timex.status, timex.maxerror, timex.tai)


def word_of(state: int, status: int, maxerror_us: int, tai_seconds: int = 0) -> KernelWord:
    """The word in an answer of adjtimex: its return value, `status`, `maxerror` and `tai`."""
    bound_ns = max(0, min(maxerror_us * 1000, KERNEL_LIMIT_NS))
    leap: Leap = "inserted" if status & STA_INS else "deleted" if status & STA_DEL else ""
    why = _why_not(state, status, bound_ns)
    kept = state != TIME_ERROR and not status & STA_UNSYNC
    return KernelWord(not why, bound_ns if kept else KERNEL_LIMIT_NS, leap, tai_seconds, why)


def _why_not(state: int, status: int, bound_ns: int) -> str:
    if status & STA_UNSYNC and bound_ns < KERNEL_LIMIT_NS:
        return (
            "somebody corrects the clock and yet lets it be marked as unsynchronised: "
            "the time daemon must clear the mark (chrony: rtcsync)"
        )
    if status & STA_UNSYNC:
        return "no time server has put the clock right"
    if state == TIME_ERROR:
        return "the kernel reports a fault of its clock"
    if bound_ns >= MOST_ERROR_NS:
        return f"too long without a correction: it may be {error_text(bound_ns)} wrong"
    return ""


def _refused(errno: int) -> KernelWord:
    why = (
        f"the kernel does not answer adjtimex ({os.strerror(errno)}); a service unit with "
        "ProtectClock= or without the system calls of @clock forbids the question"
    )
    return KernelWord(False, KERNEL_LIMIT_NS, why=why)


def error_text(error_ns: int) -> str:
    """An error for people, never less than it is: "0.1 s", "2.4 s", "35 s", "3 min", "2 h"."""
    assert error_ns >= 0, "an error is an amount"
    if error_ns <= 10 * SECOND:
        return f"{max(1, -(-error_ns // (SECOND // 10))) / 10:.1f} s"
    for unit, name, until in ((SECOND, "s", 2 * MINUTE), (MINUTE, "min", 2 * HOUR)):
        if error_ns <= until:
            return f"{-(-error_ns // unit)} {name}"
    if error_ns <= 2 * DAY:
        return f"{-(-error_ns // HOUR)} h"
    return f"{-(-error_ns // DAY)} days"


def boot_id() -> str:
    """The identifier of this run of the machine."""
    with open("/proc/sys/kernel/random/boot_id", encoding="ascii") as file:
        return file.read().strip()
