"""Steps the clock as a time server's client would, and says to the kernel that it is kept.

set_clock.py UTC_NS     to that instant
set_clock.py +NS|-NS    by so much
Prints the monotonic clock (ns) just before.
"""

import ctypes
import sys
import time

ADJ_MAXERROR, ADJ_ESTERROR, ADJ_STATUS = 0x4, 0x8, 0x10  # linux/timex.h, from memory


class Timex(ctypes.Structure):
    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("rest", ctypes.c_char * 256),
    )


def main(told: str) -> None:
    before = time.monotonic_ns()
    if told[0] in "+-":
        time.clock_settime_ns(time.CLOCK_REALTIME, time.time_ns() + int(told))
    else:
        time.clock_settime_ns(time.CLOCK_REALTIME, int(told))
    kept = Timex(modes=ADJ_MAXERROR | ADJ_ESTERROR | ADJ_STATUS, maxerror=1000, esterror=1000)
    if ctypes.CDLL(None).adjtimex(ctypes.byref(kept)) < 0:
        raise SystemExit("the kernel does not take it")
    print(before)


if __name__ == "__main__":
    main(sys.argv[1])
