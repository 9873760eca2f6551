"""A board's RTCs as the kernel shows them, in a folder of our own."""

from __future__ import annotations

from pathlib import Path


def board_rtc(
    root: Path, name: str = "rtc0", *, shows: int | None, set_the_clock: bool = True, **files: str
) -> Path:
    """One RTC that shows so many seconds since 1970; None: its driver gives no time (EINVAL)."""
    folder = root / "sys/class/rtc" / name
    folder.mkdir(parents=True)
    (folder / "name").write_text("rtc-test 1-0068\n")
    (folder / "hctosys").write_text(f"{int(set_the_clock)}\n")
    if shows is None:
        (folder / "since_epoch").mkdir()  # reading a folder fails, as reading the driver does
    else:
        (folder / "since_epoch").write_text(f"{shows}\n")
    for file, text in files.items():
        (folder / file).write_text(text)
    return root
