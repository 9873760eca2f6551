"""A guest with the project installed by its own installer, at work, and written down as it works.

Every test goes on from there in seconds, with a disk of its own; only power cuts boot anew.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

from build_guest import Guest, build_guest, cache_folder, kept
from machine import Machine, machine

# 08:28 in Halifax: what its own clock says as it gets its power for the first time.
BEGIN = datetime(2026, 11, 25, 12, 28, tzinfo=UTC)
NORTH, YARD = 17, 5
MAIN, HALL, WATCH = (22, 23), (7, 8), 6
RELAYS = {NORTH: True, YARD: False, 22: True, 23: True, 7: False, 8: False, WATCH: False}
HEALTH = 25
BUTTON, SWITCH, SENSE, SUPPLY = 20, 4, 24, 26
HELD = {BUTTON: True, SWITCH: True, SUPPLY: True}  # contacts open, the 24 V there
WIRES = ((NORTH, SENSE),)
WIRING = f"""\
[building]
name = "Elm House"
timezone = "America/Halifax"
[supply]
sense = {SUPPLY}
[zones.north]
relay = {NORTH}
longest = "20s"
a_minute = "40s"
sense = {SENSE}
[zones.yard]
relay = {YARD}
active = "low"
longest = "20s"
a_minute = "40s"
[lines.main]
drive = "alternating"
relays = [{MAIN[0]}, {MAIN[1]}]
[lines.hall]
drive = "alternating"
relays = [{HALL[0]}, {HALL[1]}]
active = "low"
impulse = "600ms"
gap = "400ms"
[lines.watch]
drive = "single"
relays = {WATCH}
active = "low"
every = "30s"
impulse = "500ms"
gap = "500ms"
[panel.button]
pin = {BUTTON}
does = "ring"
zones = ["north"]
[panel.switch]
pin = {SWITCH}
does = "quiet"
zones = ["yard"]
[health]
relay = {HEALTH}
[clock]
trust_rtc = true
"""
_RINGS = "".join(
    f'  {{ at = "{hour:02}:{minute:02}", zones = ["north", "yard"], for = "2s" }},\n'
    for hour in (8, 9)
    for minute in range(60)
)
TIMETABLE = f"""\
# A ring a minute in the morning, so that no test waits for one.
[plans.regular]
rings = [
{_RINGS}]
[week]
wed = "regular"
"""


SECOND, MINUTE = 1_000_000_000, 60_000_000_000


class Installed(NamedTuple):
    """A guest at work, written down."""

    guest: Guest
    disk: Path
    memory: Path
    figures: dict[str, Any]


def install(on: Machine, *words: str) -> str:
    """Install from what is brought, as a user would; what was said."""
    on.sh("mountpoint -q /brought || mount -o ro /dev/vdb /brought")
    given = ["--any-debian", "--from", "/brought/wheels", *words]
    return on.run("/brought/understudy/systemd/install", *given, seconds=1500).out


def installed() -> Installed:
    """The guest at work; made where it is not yet there."""
    guest = build_guest()
    name = f"installed-{hashlib.sha256(words_of(guest).encode()).hexdigest()[:12]}"
    place = kept(name, lambda to: _make(guest, to))
    figures = json.loads((place / "figures.json").read_text())
    return Installed(guest, place / "disk.qcow2", place / "memory", figures)


def words_of(guest: Guest) -> str:
    """All that a disk with the project on it is made of."""
    return f"{Path(__file__).read_text()}{guest.base.parent.name}{guest.brought.parent.name}"


def _make(guest: Guest, to: Path) -> None:
    for old in cache_folder().glob("installed-*"):  # a gigabyte each
        if old != to and old.is_dir():
            shutil.rmtree(old)
    began = time.monotonic()
    said = installed_on(guest.base, guest.brought, to / "installed.img")
    done = time.monotonic()
    one = Machine(guest, to, to / "installed.img")
    try:
        one.held, one.wires = dict(HELD), WIRES
        one.boot(BEGIN)
        booted = time.monotonic()
        one.until("systemctl is-active -q understudy", 300)
        one.until("[ $(systemctl is-system-running) = running ]", 300)
        figures = {"install": done - began, "boot": booted - done, "said": said}
        (to / "record.json").write_text(json.dumps(one.record.edges))
        (to / "figures.json").write_text(json.dumps(figures))
        one.sh("sync; echo 3 >/proc/sys/vm/drop_caches")
        one.freeze(to / "memory")
    except BaseException:
        if one.has_power:
            (to.parent / "failed.log").write_text(one.console())
            one.cut()
        raise


# Emulated, pip takes many minutes. On the guest's disk, but here, the installer does the same, and
# finds no systemd running: the daemon starts with the machine.
_INSTALL = """
set -eu
mount -o loop "$1" /mnt
mount -o loop,ro "$2" /mnt/brought
mount -t proc proc /mnt/proc
mount -t tmpfs tmpfs /mnt/run
mkdir -p /mnt/root/building
printf %s "$3" >/mnt/root/building/10-wiring.toml
printf %s "$4" >/mnt/root/building/20-timetable.toml
chroot /mnt /usr/bin/env -i PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin \\
  /brought/understudy/systemd/install --any-debian --from /brought/wheels --building /root/building
umount /mnt/run /mnt/proc /mnt/brought
umount /mnt
"""


def installed_on(below: Path, brought: Path, disk: Path) -> str:
    """Make `disk`: as `below`, and what is brought installed there, without a network; what the
    installer said.
    """
    if disk != below:
        subprocess.run(["cp", "--sparse=always", str(below), str(disk)], check=True)
    alone = ["unshare", "--mount", "--net", "--propagation", "private", "sh", "-c", _INSTALL, "sh"]
    given = [str(disk), str(brought), WIRING, TIMETABLE]
    done = subprocess.run([*alone, *given], capture_output=True, text=True)
    assert done.returncode == 0, f"{done.stdout}{done.stderr}"
    return done.stdout


def at_rest(on: Machine) -> None:
    """Wait for a part of the minute in which nothing sounds or steps of itself for 20 s."""
    while not 3 < on.clock() % MINUTE / SECOND < 40:
        on.sleep(1)


@contextmanager
def at_work(of: Installed, folder: Path) -> Iterator[Machine]:
    """The guest at work, on a disk of its own."""
    with machine(of.guest, folder, of.disk) as one:
        one.held, one.wires = dict(HELD), WIRES
        one.go_on(BEGIN, of.memory)
        yield one
