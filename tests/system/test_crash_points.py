"""The store's disk as it would be after a power cut at any of many points, rebuilt from a log of
all that was written to it while impulses were given every second. An impulse that a relay has begun
was stored before; so what a point's store says must lead to where the dials will be.
"""

from __future__ import annotations

import random
import sqlite3
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from figures import note
from full import rounds
from guest_at_work import BEGIN, HELD, RELAYS, WIRES, Installed
from judging import HALL_LINE, MINUTES, drive, minutes_of
from machine import Machine, machine
from recording import Edge
from write_log import Disk, writes

pytestmark = pytest.mark.system

DISK_BYTES = 48 << 20
STATE = "/var/lib/understudy"
SHOWN = "03:00"


def test_nothing_that_a_relay_began_is_lost_at_any_crash_point(
    written_down: Installed, tmp_path: Path
) -> None:
    points = rounds(200, 2_000)
    lost = lost_at_crash_points(written_down, tmp_path, points, rounds(45, 240))
    note("crash points rebuilt", points, "points")
    note("crash points with an impulse lost", len(lost), "points", 0)
    assert lost == []


def lost_at_crash_points(
    of: Installed,
    folder: Path,
    points: int,
    seconds: int,
    spoils: Callable[[Machine], None] = lambda _: None,
) -> list[str]:
    """What was lost at so many points in so many seconds of the guest's, an impulse being given in
    each; `spoils` has a hand in it before the daemon starts.
    """
    disk, before, log = folder / "disk.img", folder / "before.img", folder / "log"
    begun: list[tuple[Edge, int]] = []  # an edge, and how long the log was when it was told
    beginning = threading.Event()

    def told(edge: Edge) -> None:
        if beginning.is_set() and edge.what == "level" and edge.line in HALL_LINE.relays:
            begun.append((edge, log.stat().st_size))

    with machine(of.guest, folder / "guest", of.disk) as one:
        one.held, one.wires = dict(HELD), WIRES
        subprocess.run(["truncate", "-s", str(DISK_BYTES), str(disk)], check=True)
        subprocess.run(["mkfs.ext4", "-q", "-F", str(disk)], check=True)
        before.write_bytes(disk.read_bytes())
        log.touch()
        one.more_drives = logged(disk, log)
        one.boot(BEGIN)
        one.until("systemctl is-active -q understudy", 400)
        one.sh("systemctl stop understudy")
        one.sh(f"mount /dev/vdc /mnt && cp -a {STATE}/. /mnt && chown --reference={STATE} /mnt")
        one.sh(f"chmod --reference={STATE} /mnt && umount /mnt && mount /dev/vdc {STATE}")
        spoils(one)
        one.sh("systemctl start understudy && sync")
        one.record.on_edge = told
        beginning.set()
        drive(one, HALL_LINE, SHOWN)
        one.sleep(2)
        first = log.stat().st_size
        one.sleep(seconds)
        last = log.stat().st_size
        one.quit()
    ends = [one.ends_at for one in writes(log) if first <= one.ends_at <= last]
    assert len(ends) >= seconds, "too little was written: the store's disk is another one"
    note("impulses begun meanwhile", len(begun) // 2, "impulses")
    return lost(before, log, begun, sorted(random.Random(1).choices(ends, k=points)), folder)


def logged(disk: Path, log: Path) -> list[str]:
    """qemu's words for a third disk, of which all writes are logged; in a late slot, so that it is
    the third for the guest as well.
    """
    files = []
    for name, path in (("data", disk), ("log", log)):
        files += ["-blockdev", f"driver=file,node-name={name},filename={path},cache.direct=off"]
    both = "driver=blklogwrites,node-name=logged,file=data,log=log"
    return [*files, "-blockdev", both, "-device", "virtio-blk-pci,drive=logged,addr=0x1e"]


def lost(
    before: Path, log: Path, begun: list[tuple[Edge, int]], points: list[int], folder: Path
) -> list[str]:
    """Where the store, as the disk would have it then, leads to other dials than the edges do."""
    chance = random.Random(2)
    rebuilt = Disk(before, log)
    found = []
    for point in points:
        image = folder / "crashed.img"
        image.write_bytes(rebuilt.crashed(point, chance))
        row = stored(image, folder)
        given = [edge for edge, size in begun if size <= point and edge.level == level_of(edge)]
        if given and (fault := missing(row, given)):
            found.append(f"at {point}: {fault}")
    return found


def level_of(edge: Edge) -> bool:
    return RELAYS[edge.line]


def stored(image: Path, folder: Path) -> tuple[int, str, str | None, int | None]:
    """What the store says of the line: shown, polarity, and the impulse that is out."""
    repaired = subprocess.run(["e2fsck", "-fy", str(image)], capture_output=True, text=True)
    assert repaired.returncode in (0, 1), repaired.stdout
    for name in ("store.sqlite", "store.sqlite-wal"):
        there = folder / name
        there.unlink(missing_ok=True)
        subprocess.run(
            ["debugfs", "-R", f"dump /{name} {there}", str(image)], capture_output=True, check=True
        )
    db = sqlite3.connect(folder / "store.sqlite")
    try:
        assert db.execute("PRAGMA quick_check").fetchall() == [("ok",)]
        row = "SELECT shown, polarity, step_polarity, step_counts FROM lines WHERE line = 'hall'"
        found: tuple[int, str, str | None, int | None] = db.execute(row).fetchone()
    finally:
        db.close()
        (folder / "store.sqlite-shm").unlink(missing_ok=True)
    return found


def missing(row: tuple[int, str, str | None, int | None], given: list[Edge]) -> str:
    """Why dials that took these impulses would be wrong once the one that is out is given again."""
    shown, polarity, out, counts = row
    dials = (minutes_of(SHOWN) + len(given)) % MINUTES
    took = "+" if given[-1].line == HALL_LINE.relays[0] else "-"
    if out is not None:
        shown = (shown + (counts or 0)) % MINUTES
        dials = (dials + (out != took)) % MINUTES
    elif polarity != took:
        return f"the store says {polarity} came last, the dials took {took}"
    return "" if shown == dials else f"the store leads to {shown}, the dials to {dials}: {row}"
