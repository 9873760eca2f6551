"""The kernel's word on its clock, by `adjtimex` (adjtimex(2), `linux/timex.h`)."""

from __future__ import annotations

import ctypes

STA_UNSYNC = 0x0040
TIME_ERROR = 5
# The kernel lets maxerror grow by 500 µs a second from the last correction and sets STA_UNSYNC at
# 16 s; some daemons clear STA_UNSYNC but leave maxerror at its limit.
MOST_ERROR_US = 16_000_000


class _Timex(ctypes.Structure):
    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("rest", ctypes.c_char * 256),
    )


_libc = ctypes.CDLL(None, use_errno=True)


def kernel_synchronised() -> bool:
    """Whether the kernel says that its clock is synchronised, to within 16 s at worst."""
    timex = _Timex()
    state = _libc.adjtimex(ctypes.byref(timex))
    if state < 0 or state == TIME_ERROR:
        return False
    return not timex.status & STA_UNSYNC and int(timex.maxerror) < MOST_ERROR_US


def boot_id() -> str:
    """The identifier of this run of the machine."""
    with open("/proc/sys/kernel/random/boot_id", encoding="ascii") as file:
        return file.read().strip()
