"""The board's real-time clock: what it says, and whether it may vouch for the system's clock.

Read from the kernel's own files (`/sys/class/rtc/rtc*`, Documentation/admin-guide/rtc.rst). An RTC
is believed only where the building's file says so (`clock.trust_rtc`, design rule 15), the system's
clock was set from it at the start and agrees with it still, and nothing speaks against it.
"""

from __future__ import annotations

import fcntl
import os
import re
import struct
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, NamedTuple

from controller.building.civil import utc_ns
from controller.building.durations import MILLISECOND, SECOND, duration_text

# No clock that runs this program is right before the program was written.
WRITTEN_UTC = utc_ns(datetime(2026, 1, 1, tzinfo=UTC))
# A choice. An RTC shows whole seconds: up to half of one is lost when the clock is set from it, and
# again when it is read. The rest is for the two crystals: five and a half hours at 100 ppm.
MOST_APART_NS = 3 * SECOND
# A choice, for a 3 V cell that is empty at 2.0 V (common practice, no source). The board vendor's
# driver tells the volts (drivers/rtc/rtc-rpi.c, `battery_voltage` in µV).
EMPTY_MICROVOLTS = 2_000_000
MOST_RTCS = 16  # that are looked at
# linux/rtc.h: RTC_VL_READ is _IOR('p', 0x13, unsigned int); drivers before these flags gave 0 or 1.
_RTC_VL_READ = 0x80047013
_VL_DATA_INVALID, _VL_BACKUP_LOW, _VL_BACKUP_EMPTY, _VL_ACCURACY_LOW = 1, 2, 4, 8
_NAME = re.compile(r"rtc[0-9]{1,3}")

Battery = Literal["good", "low", "failed", "unknown"]


class RtcReading(NamedTuple):
    """One RTC, read."""

    name: str  # "rtc0"
    chip: str  # as its driver names it
    says_utc: int | None  # ns; the middle of the second that it shows; None: it cannot be read
    system_utc: int  # ns, the system's clock as it was read
    set_the_clock: bool  # the kernel set the system's clock from it at the start (`hctosys`)
    battery: Battery  # as far as can be known

    @property
    def apart_ns(self) -> int | None:
        """How far the system's clock is ahead of it."""
        return None if self.says_utc is None else self.system_utc - self.says_utc


class RtcWord(NamedTuple):
    """Whether an RTC vouches for the system's clock, and why or why not, for people."""

    vouches: bool
    says: str


def read_rtcs(
    root: Path = Path("/"),
    now: Callable[[], int] = time.time_ns,
    flags: Callable[[Path], int | None] | None = None,
) -> tuple[RtcReading, ...]:
    """Every RTC of the board, in order of its number; none where there is none.

    `root` stands for the machine's own; `flags` asks a device for its voltage flags.
    """
    try:
        names = [name for name in os.listdir(root / "sys/class/rtc") if _NAME.fullmatch(name)]
    except OSError:
        return ()
    ask = voltage_flags if flags is None else flags
    return tuple(
        _read(root, name, now, ask)
        for name in sorted(names, key=lambda name: int(name[3:]))[:MOST_RTCS]
    )


def _read(
    root: Path, name: str, now: Callable[[], int], flags: Callable[[Path], int | None]
) -> RtcReading:
    folder = root / "sys/class/rtc" / name
    shows = _number(folder / "since_epoch")
    utc = now()
    says = None if shows is None else shows * SECOND + SECOND // 2
    battery = _battery(shows, _number(folder / "battery_voltage"), flags(root / "dev" / name))
    set_the_clock = _number(folder / "hctosys") == 1
    return RtcReading(name, _text(folder / "name"), says, utc, set_the_clock, battery)


def _battery(shows: int | None, microvolts: int | None, flags: int | None) -> Battery:
    """What the time that it shows, its volts and its flags say of its battery.

    An RTC whose battery fails begins again at its epoch, where its driver gives a time at all.
    """
    if shows is not None and shows * SECOND < WRITTEN_UTC:
        return "failed"
    if microvolts is not None and microvolts < EMPTY_MICROVOLTS:
        return "failed"
    if flags is None:
        return "unknown" if microvolts is None else "good"
    if flags & (_VL_DATA_INVALID | _VL_BACKUP_EMPTY):
        return "failed"
    return "low" if flags & (_VL_BACKUP_LOW | _VL_ACCURACY_LOW) else "good"


def voltage_flags(device: Path) -> int | None:
    """The voltage flags of `/dev/rtcN`; None where driver, rights or another reader forbid it."""
    with suppress(OSError):
        descriptor = os.open(device, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
        try:
            answer = fcntl.ioctl(descriptor, _RTC_VL_READ, bytes(4))
        finally:
            os.close(descriptor)
        return int(struct.unpack("=I", answer)[0])
    return None


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace")[:200].strip()
    except OSError:
        return ""


def _number(path: Path) -> int | None:
    text = _text(path)
    return int(text) if re.fullmatch(r"-?[0-9]{1,18}", text) else None


def rtc_word(
    readings: Iterable[RtcReading], trust_rtc: bool, now_utc: int, newest_stored_utc: int
) -> RtcWord:
    """Whether one of `readings` vouches for the system's clock, which says `now_utc`.

    `newest_stored_utc` is the instant of the newest event in the store (0: there is none): time
    does not go back, so neither clock may be before it.
    """
    given = tuple(readings)
    if not trust_rtc:
        return RtcWord(False, "the file does not say that an RTC may be trusted (clock.trust_rtc)")
    if not given:
        return RtcWord(False, "the file trusts the board's RTC, but the kernel knows of none")
    doubts = []
    for reading in given:
        doubt = _doubt(reading, now_utc, newest_stored_utc)
        if doubt is None:
            return RtcWord(True, f"{reading.name} vouches for the clock; {_agrees(reading)}")
        doubts.append(f"{reading.name}: {doubt}")
    return RtcWord(False, "; ".join(doubts))


def _doubt(reading: RtcReading, now_utc: int, newest_stored_utc: int) -> str | None:
    """What speaks against an RTC, in words; None where nothing does."""
    apart = reading.apart_ns
    if reading.says_utc is None or apart is None:
        return "it gives no time; its battery may have failed, and it must be set"
    if reading.says_utc < WRITTEN_UTC:
        return (
            f"it says {_utc_text(reading.says_utc)}, before this program was written: "
            "its battery has failed, or it was never set"
        )
    if reading.battery == "failed":
        return "its battery is empty or missing"
    if min(reading.says_utc, now_utc) < newest_stored_utc:
        return (
            f"it says {_utc_text(min(reading.says_utc, now_utc))}, before the newest event "
            f"in the store, of {_utc_text(newest_stored_utc)}"
        )
    if not reading.set_the_clock:
        return "the kernel did not set the system's clock from it at the start"
    if abs(apart) > MOST_APART_NS:
        return f"it and the system's clock are {_apart_text(apart)} apart"
    return None


def _agrees(reading: RtcReading) -> str:
    assert reading.apart_ns is not None
    low = "; its battery is low" if reading.battery == "low" else ""
    return f"it and the system's clock agree to within {_apart_text(reading.apart_ns)}{low}"


def _apart_text(apart_ns: int) -> str:
    tenth = 100 * MILLISECOND
    return duration_text(max(tenth, -(-abs(apart_ns) // tenth) * tenth))


def _utc_text(utc: int) -> str:
    return f"{datetime.fromtimestamp(utc // SECOND, UTC):%Y-%m-%d %H:%M:%S} UTC"
