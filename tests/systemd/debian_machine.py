"""Debian machines for tests: a root made by mmdebstrap, in which the real systemd runs as PID 1.

It has mounts, processes, cgroups, host name and network of its own (unshare(1)), and no way to any
other network. What it writes goes into a layer of its own, so a root is made once and used often.
Needs root, mmdebstrap, and the kernel's overlay file system.

`python tests/systemd/debian_machine.py` makes all roots beforehand, side by side.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

ROOTS = Path(tempfile.gettempdir(), "understudy-roots")
_BOOT = Path(__file__).with_name("boot_machine.sh")
_BOOT_SECONDS = 60.0
_RUN_SECONDS = 300.0
_COMMON = "systemd,systemd-sysv,systemd-timesyncd,dbus,python3,python3-venv,procps,tzdata"
PACKAGES = {
    "bookworm": _COMMON,
    "trixie": f"{_COMMON},python3-libgpiod,python3-pydantic,python3-jinja2,python3-argon2,"
    "python3-cffi",
}


def debian_root(suite: str) -> Path:
    """A root of that Debian, made where there is none yet (some two minutes, from Debian's
    packages)."""
    root = ROOTS / suite
    recipe = root.with_suffix(".packages")
    ROOTS.mkdir(exist_ok=True)
    with (ROOTS / f"{suite}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if recipe.is_file() and recipe.read_text() == PACKAGES[suite]:
            return root
        shutil.rmtree(root, ignore_errors=True)
        made = subprocess.run(
            ["mmdebstrap", "--variant=minbase", f"--include={PACKAGES[suite]}", suite, str(root)],
            capture_output=True,
            text=True,
        )
        assert made.returncode == 0, made.stderr[-2000:]
        recipe.write_text(PACKAGES[suite])
    return root


class Machine:
    """A running machine."""

    def __init__(self, pid: int, root: Path) -> None:
        self._pid = pid  # of its PID 1, as seen from here
        self.root = root  # its files, as seen from here

    def run(
        self, *words: str, check: bool = True, seconds: float = _RUN_SECONDS
    ) -> subprocess.CompletedProcess[str]:
        """Run a command as root, and have what it said."""
        enter = ["nsenter", f"--target={self._pid}", "--mount", "--pid", "--cgroup", "--ipc"]
        environment = ["env", "-i", "PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"]
        done = subprocess.run(
            [*enter, "--uts", "--net", f"--wd={self._root_seen}", "--root", *environment, *words],
            capture_output=True,
            text=True,
            timeout=seconds,
            stdin=subprocess.DEVNULL,
        )
        if check:
            assert done.returncode == 0, f"{words}: {done.returncode}\n{done.stdout}{done.stderr}"
        return done

    @property
    def _root_seen(self) -> str:
        return f"/proc/{self._pid}/root"

    def file(self, path: str) -> Path:
        """A file of it, as it sees it now (mounts of its own too), from here."""
        return Path(self._root_seen, path.lstrip("/"))

    def shown(self, *properties: str) -> dict[str, str]:
        """What systemd says of the daemon's unit."""
        told = self.run("systemctl", "show", "understudy", f"--property={','.join(properties)}")
        return dict(line.split("=", 1) for line in told.stdout.splitlines())

    def journal(self) -> str:
        """What the unit has said so far."""
        return self.run("journalctl", "--unit=understudy", "--output=cat", "--no-pager").stdout

    def until(self, *words: str, seconds: float = 30.0) -> float:
        """Wait until a command succeeds; the seconds that took."""
        began = time.monotonic()
        while self.run(*words, check=False).returncode:
            took = time.monotonic() - began
            assert took < seconds, f"{words}: not within {seconds:g} s\n{self.journal()[-3000:]}"
            time.sleep(0.05)
        return time.monotonic() - began


@contextmanager
def machine(
    layers: Sequence[Path], folder: Path, brought: Sequence[Path] = ()
) -> Iterator[Machine]:
    """Boot a machine on these layers, the topmost first; what it writes stays in `folder`/upper.

    `brought`: folders of this machine that it sees, read-only, under /brought.
    """
    for name in ("upper", "work", "root"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    with _cgroup() as cgroup:
        lower = ":".join(str(layer) for layer in layers)
        words = [str(_BOOT), str(cgroup), lower, str(folder), *map(str, brought)]
        with (folder / "boot.log").open("w") as log:
            booted = subprocess.Popen(
                ["bash", *words], stdin=subprocess.DEVNULL, stdout=log, stderr=log
            )
        try:
            pid = _first_process(booted, folder)
            running = Machine(pid, folder / "upper")
            running.until("systemctl", "is-system-running", "--wait", seconds=_BOOT_SECONDS)
            yield running
        finally:
            for child in _children(booted.pid):
                os.kill(child, signal.SIGKILL)
            booted.wait()


def _first_process(booted: subprocess.Popen[bytes], folder: Path) -> int:
    give_up = time.monotonic() + _BOOT_SECONDS
    while time.monotonic() < give_up:
        for child in _children(booted.pid):
            if Path(f"/proc/{child}/comm").read_text().strip() == "systemd":
                return child
        assert booted.poll() is None, (folder / "boot.log").read_text()
        time.sleep(0.05)
    raise AssertionError((folder / "boot.log").read_text())


def _children(pid: int) -> list[int]:
    try:
        return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


@contextmanager
def _cgroup() -> Iterator[Path]:
    """A cgroup of version 2 for one machine, so that two do not meet."""
    mounts = [line.split() for line in Path("/proc/mounts").read_text().splitlines()]
    top = next(Path(where) for _, where, kind, *_ in mounts if kind == "cgroup2")
    ours = Path(tempfile.mkdtemp(prefix="understudy-", dir=top))
    try:
        yield ours
    finally:
        for group, _, _ in os.walk(ours, topdown=False):
            _remove_empty(Path(group))


def _remove_empty(group: Path) -> None:
    give_up = time.monotonic() + 5
    while group.is_dir():
        try:
            group.rmdir()
        except OSError:  # whoever was in it is just ending
            assert time.monotonic() < give_up, f"{group} is not left"
            time.sleep(0.05)


if __name__ == "__main__":
    with ThreadPoolExecutor() as makers:
        for root in makers.map(debian_root, PACKAGES):
            print(root)
