"""What is brought to a machine to install Understudy there, and a building for it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

from debian_machine import Machine

REPOSITORY = Path(__file__).parents[2]
SYSTEMD = REPOSITORY / "systemd"
_SOURCE = ("LICENSE", "README.md", "pyproject.toml", "controller", "systemd")
TARGETS = {"bookworm": "amd64-cp311", "trixie": "amd64-cp313"}

WIRING = """\
[building]
name = "Elm House"
timezone = "America/Halifax"
[zones.north]
relay = 17
longest = "20s"
a_minute = "40s"
[lines.main]
drive = "alternating"
relays = [22, 23]
"""
TIMETABLE = """\
# The keeper's own words.
[plans.regular]
rings = [{ at = "08:30", zones = ["north"], for = "5s" }]
[week]
mon = "regular"
"""
# The unit's own lines but for the pins, on a fake board that outlives it.
FAKE_PINS = """\
[Service]
Environment=UNDERSTUDY_PAGE_USER=understudy-page
ExecStart=
ExecStart=/opt/understudy/current/bin/understudy run /etc/understudy/building --group understudy \\
  --fake --as-if-right --runtime /run/understudy --state /var/lib/understudy
"""
BOARD = """\
[Unit]
Before=understudy.service
[Service]
Type=oneshot
RemainAfterExit=yes
KillMode=none
User=understudy
Group=understudy
RuntimeDirectory=understudy
RuntimeDirectoryMode=0750
RuntimeDirectoryPreserve=yes
ExecStart=/opt/understudy/current/bin/understudy fake-board /etc/understudy/building \\
  --runtime /run/understudy start
[Install]
WantedBy=multi-user.target
"""


def copy_source(into: Path) -> Path:
    """This repository as somebody would bring it to a Pi; a copy to be changed."""
    here = into / "understudy"
    here.mkdir(parents=True)
    for name in _SOURCE:
        place = REPOSITORY / name
        if place.is_dir():
            shutil.copytree(place, here / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(place, here / name)
    return here


def download(target: str, folder: Path) -> Path:
    """The wheels of a lock."""
    words = [str(SYSTEMD / "locks.py"), "download", target, str(folder)]
    done = subprocess.run([sys.executable, *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return folder


class Kit(NamedTuple):
    """What is brought to a machine, and the machine with nothing on it."""

    suite: str
    root: Path
    source: Path
    wheels: Path
    building: Path

    def install(self, on: Machine, *words: str, source: str = "understudy") -> str:
        """Install, or whatever the words say, from /brought; what was said."""
        given = ["--any-debian", "--from", f"/brought/{self.wheels.name}", *words]
        return on.run(f"/brought/{source}/systemd/install", *given).stdout

    @property
    def brought(self) -> list[Path]:
        return [self.source, self.wheels, self.building]
