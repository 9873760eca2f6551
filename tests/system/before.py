"""A guest's disk with the version that landed before, installed by that version's own installer.

The environment of today's version is made on the disk as well, and lies ready where the installer
looks for it: emulated, pip takes many minutes. All else of an upgrade is left to do.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from build_guest import REPOSITORY, TARGET, Guest, Missing, kept, packed
from guest_at_work import installed_on, words_of

COMMIT = "56231a7"  # of this repository: schema version 2
_LIES_READY = """
set -eu
mount -o loop "$1" /mnt
mkdir /mnt/opt/ready
mv /mnt/opt/understudy/[0-9]* /mnt/opt/ready
rm /mnt/opt/understudy/current
umount /mnt
"""
_PUT_BACK = """
set -eu
mount -o loop "$1" /mnt
mv /mnt/opt/ready/* /mnt/opt/understudy
umount /mnt
"""


class Before(NamedTuple):
    """The version before, installed on a disk that nobody writes to."""

    disk: Path
    said: str


def before(guest: Guest) -> Before:
    """The disk, made where it is not yet there. Raises `Missing` where the commit is not."""
    name = hashlib.sha256(f"{COMMIT}{Path(__file__).read_text()}{words_of(guest)}".encode())
    place = kept(f"before-{name.hexdigest()[:12]}", lambda to: _make(guest, to))
    return Before(place / "installed.img", (place / "said").read_text())


def _make(guest: Guest, to: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="understudy-before-") as name:
        source, wheels, brought = Path(name, "source"), Path(name, "wheels"), Path(name, "brought")
        source.mkdir()
        _check_out(source)
        locks = [sys.executable, str(source / "systemd/locks.py"), "download", TARGET, str(wheels)]
        subprocess.run(locks, check=True, capture_output=True)
        packed(source, wheels, brought)
        disk = to / "installed.img"
        installed_on(guest.base, guest.brought, disk)
        _alone(_LIES_READY, disk)
        said = installed_on(disk, brought, disk)
        _alone(_PUT_BACK, disk)
        (to / "said").write_text(said)


def _check_out(to: Path) -> None:
    words = ["git", "-C", str(REPOSITORY), "-c", f"safe.directory={REPOSITORY}", "archive", COMMIT]
    done = subprocess.run(words, capture_output=True)
    if done.returncode:
        raise Missing(f"{' '.join(words)}: {done.stderr.decode()}(is this clone a shallow one?)")
    subprocess.run(["tar", "-x", "-C", str(to)], input=done.stdout, check=True)


def _alone(script: str, disk: Path) -> None:
    words = ["unshare", "--mount", "--propagation", "private", "sh", "-c", script, "sh", str(disk)]
    subprocess.run(words, check=True, capture_output=True)
