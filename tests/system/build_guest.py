"""Builds the guest: Debian 12 with the real systemd, its kernel, and a simulated GPIO chip.

    python tests/system/build_guest.py      build what is not yet there, and say where it is

From Debian's packages and PyPI alone. Each part is kept in the cache folder (UNDERSTUDY_GUESTS, or
~/.cache/understudy-guests) under a name made of all that goes into it, so a change of the project
makes only the disk of what is brought to the guest anew, which takes seconds.

Needs root, and on Debian 12 the packages of `HOST_PACKAGES`.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
REPOSITORY = HERE.parents[1]
GUEST = HERE / "guest"
HOST_PACKAGES = [
    "qemu-system-x86",
    "qemu-utils",
    "mmdebstrap",
    "busybox-static",
    "cpio",
    "kmod",
    "e2fsprogs",
    "gcc",
    "make",
    "patch",
    "xz-utils",
    "linux-headers-amd64",
    "linux-source-6.1",
]
GUEST_PACKAGES = (
    "systemd,systemd-sysv,dbus,kmod,udev,python3,python3-venv,sqlite3,procps,tzdata,chrony"
)
SUITE, TARGET = "bookworm", "amd64-cp311"
_SOURCE = ("LICENSE", "README.md", "pyproject.toml", "controller", "systemd")
# What the guest's disk, the agent's port and the board's chip need, of the kernel's modules.
_WANTED_MODULES = ("virtio_pci", "virtio_blk", "ext4", "crc32c_generic", "virtio_console",
                   "configfs", "autofs4", "loop")  # fmt: skip
_DISK_BYTES = 3 << 30
_DAY_SECONDS = 86_400
_EPOCH = 1  # 1970


class Guest(NamedTuple):
    """What a machine is made of; nobody writes to these files."""

    kernel: Path
    initrd: Path
    base: Path  # the disk with nothing of the project on it
    brought: Path  # a second disk: /understudy, /wheels


class Missing(Exception):
    """What this machine lacks to build the guest, in words."""


def build_guest() -> Guest:
    """The guest, built where it is not yet there. Raises `Missing`, or what a tool said."""
    _need_host()
    version = _kernel_version()
    chip = [(GUEST / name).read_text() for name in ("gpio-sim.patch", "recorder.h")]
    with ThreadPoolExecutor() as makers:
        debian = makers.submit(_kept, f"debian-{_sum(SUITE, GUEST_PACKAGES)}", _make_debian)
        kernel = makers.submit(
            _kept,
            f"kernel-{_sum(version, *_WANTED_MODULES, *chip)}",
            lambda folder: _make_kernel(folder, version),
        )
        parts = debian.result(), kernel.result()
    recipe = _sum(*map(str, parts), *_texts(GUEST), Path(__file__).read_text())
    system = _kept(f"system-{recipe}", lambda folder: _make_system(folder, *parts))
    wheels_of = (REPOSITORY / "systemd" / f"lock-{TARGET}.txt").read_text()
    wheels = _kept(f"wheels-{_sum(wheels_of)}", _download_wheels)
    brought = _kept(f"brought-{_sum(_source_sum(), wheels_of)}", lambda to: _bring(to, wheels))
    for old in cache_folder().glob("brought-*/"):  # each change of the project leaves one
        if old != brought and time.time() - old.stat().st_mtime > _DAY_SECONDS:
            shutil.rmtree(old, ignore_errors=True)
    return Guest(
        parts[1] / "vmlinuz", system / "initrd", system / "base.img", brought / "brought.img"
    )


def cache_folder() -> Path:
    """Where all that is built is kept."""
    chosen = os.environ.get("UNDERSTUDY_GUESTS")
    folder = Path(chosen) if chosen else Path("~/.cache/understudy-guests").expanduser()
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def kept(name: str, make: Callable[[Path], None]) -> Path:
    """A folder of the cache, filled by `make` where it is not yet there, by one at a time."""
    return _kept(name, make)


# ── the cache ────────────────────────────────────────────────────────────────────────────────────


def _kept(name: str, make: Callable[[Path], None]) -> Path:
    place = cache_folder() / name
    with (cache_folder() / f"{name.rsplit('-', 1)[0]}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not place.is_dir():
            unfinished = place.with_name(f"{name}.unfinished")
            shutil.rmtree(unfinished, ignore_errors=True)
            unfinished.mkdir()
            began = time.monotonic()
            make(unfinished)
            unfinished.rename(place)
            print(f"{place}: {time.monotonic() - began:.0f} s", file=sys.stderr)
    return place


def _sum(*texts: str) -> str:
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()[:12]


def _texts(folder: Path) -> list[str]:
    return [f"{path.name}\n{path.read_text()}" for path in sorted(folder.iterdir())]


def _source_sum() -> str:
    files = sorted(path for name in _SOURCE for path in _files(REPOSITORY / name))
    return _sum(*(f"{path}\n{path.read_bytes().hex()}" for path in files))


def _files(path: Path) -> Iterator[Path]:
    if path.is_file():
        yield path
    else:
        yield from (one for one in path.rglob("*") if one.is_file() and _is_source(one))


def _is_source(path: Path) -> bool:
    return "__pycache__" not in path.parts


# ── parts ────────────────────────────────────────────────────────────────────────────────────────


def _need_host() -> None:
    if os.geteuid():
        raise Missing("the guest is built by root")
    installed = _said("dpkg-query", "-W", "-f", "${Package} ${db:Status-Status}\n")
    there = {line.split()[0] for line in installed.splitlines() if line.endswith(" installed")}
    if lacking := [name for name in HOST_PACKAGES if name not in there]:
        raise Missing(f"missing: apt-get install --no-install-recommends {' '.join(lacking)}")


def _kernel_version() -> str:
    depends = _said("dpkg-query", "-W", "-f", "${Depends}", "linux-headers-amd64")
    found = re.search(r"linux-headers-(\S+-amd64)", depends)
    assert found is not None, depends
    return found[1]


def _make_debian(to: Path) -> None:
    words = ["--quiet", "--variant=minbase", f"--include={GUEST_PACKAGES}", SUITE]
    _run("mmdebstrap", *words, str(to / "root.tar"))


def _make_kernel(to: Path, version: str) -> None:
    """The kernel's image, and the modules that the guest loads, named in their order."""
    with tempfile.TemporaryDirectory(prefix="understudy-kernel-") as name:
        work = Path(name)
        kernel = _unpack_kernel(work, version)
        chip = _build_chip(work / "chip", version)
        shutil.copy(kernel / "boot" / f"vmlinuz-{version}", to / "vmlinuz")
        (to / "modules").mkdir()
        for number, module in enumerate([*_modules(kernel, version), chip]):
            shutil.copy(module, to / "modules" / f"{number:02}-{module.name}")


def _make_system(to: Path, debian: Path, kernel: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="understudy-guest-") as name:
        root = Path(name, "root")
        root.mkdir()
        _run("tar", "-xf", str(debian / "root.tar"), "-C", str(root))
        _dress(root)
        _make_initrd(Path(name, "initrd"), kernel / "modules", to / "initrd")
        _run("truncate", "-s", str(_DISK_BYTES), str(to / "base.img"))
        words = ["-E", "lazy_itable_init=0,nodiscard", "-d", str(root), str(to / "base.img")]
        _run("mkfs.ext4", "-q", "-F", *words)


def _unpack_kernel(work: Path, version: str) -> Path:
    package, folder = f"linux-image-{version}", work / "kernel"
    _run("apt-get", "download", "-q", "-o", "APT::Sandbox::User=root", package, cwd=work)
    (deb,) = work.glob(f"{package}_*.deb")
    _run("dpkg-deb", "-x", str(deb), str(folder))
    _run("depmod", "-b", str(folder), version)
    return folder


def _build_chip(folder: Path, version: str) -> Path:
    """The kernel's own gpio-sim, out of tree, with what gpio-sim.patch and recorder.h add."""
    folder.mkdir()
    wanted = ["drivers/gpio/gpio-sim.c", "drivers/gpio/gpiolib.h", "kernel/irq/irq_sim.c"]
    archive = "/usr/src/linux-source-6.1.tar.xz"
    words = ["--strip-components=3", "-C", str(folder)]
    _run("tar", "-xJf", archive, *words, *(f"linux-source-6.1/{name}" for name in wanted))
    shutil.copy(GUEST / "recorder.h", folder)
    _run("patch", "-p1", "--quiet", "-i", str(GUEST / "gpio-sim.patch"), cwd=folder)
    (folder / "gpio-sim.c").rename(folder / "gpio-sim-core.c")
    (folder / "Makefile").write_text(
        "obj-m := gpio-sim.o\ngpio-sim-y := gpio-sim-core.o irq_sim.o\n"
    )
    _run("make", "-s", "-C", f"/usr/src/linux-headers-{version}", f"M={folder}", "modules")
    return folder / "gpio-sim.ko"


def _modules(kernel: Path, version: str) -> list[Path]:
    """The wanted modules and those that they need, in the order of loading."""
    top = kernel / "lib/modules" / version
    needs: dict[str, list[str]] = {}
    for line in (top / "modules.dep").read_text().splitlines():
        path, _, others = line.partition(":")
        needs[path] = others.split()
    by_name = {Path(path).stem.replace("-", "_"): path for path in needs}
    order: list[str] = []
    for name in _WANTED_MODULES:
        if path := by_name.get(name):  # else it is built in
            order += [one for one in [*reversed(needs[path]), path] if one not in order]
    return [top / path for path in order]


def _make_initrd(folder: Path, modules: Path, to: Path) -> None:
    (folder / "bin").mkdir(parents=True)
    shutil.copy("/bin/busybox", folder / "bin")
    shutil.copytree(modules, folder / "modules")
    shutil.copy(GUEST / "init", folder / "init")
    (folder / "init").chmod(0o755)
    files = b"\0".join(
        str(path.relative_to(folder)).encode() for path in [folder, *sorted(folder.rglob("*"))]
    )
    words = ["cpio", "--quiet", "--null", "-o", "-H", "newc"]
    packed = subprocess.run(words, cwd=folder, input=files, capture_output=True, check=True)
    to.write_bytes(packed.stdout)


def _dress(root: Path) -> None:
    """What the guest is beside Debian's packages: an agent, a board's group, and no more."""
    shutil.copy(GUEST / "agent.py", root / "opt/agent.py")
    shutil.copy(GUEST / "agent.service", root / "etc/systemd/system/agent.service")
    _run("systemctl", f"--root={root}", "--quiet", "enable", "agent.service")
    _run("systemctl", f"--root={root}", "--quiet", "mask", *(GUEST / "masked").read_text().split())
    # As Raspberry Pi OS has it.
    _run("chroot", str(root), "groupadd", "--system", "gpio")
    rule = 'SUBSYSTEM=="gpio", KERNEL=="gpiochip*", GROUP="gpio", MODE="0660"\n'
    (root / "etc/udev/rules.d/60-gpio.rules").write_text(rule)
    (root / "etc/hostname").write_text("understudy-test\n")
    (root / "etc/machine-id").write_text(f"{hashlib.md5(b'understudy').hexdigest()}\n")
    (root / "etc/fstab").write_text("/dev/vda / ext4 noatime 0 0\n")
    (root / "brought").mkdir()
    # systemd moves a clock that is older than this forward.
    (root / "usr/lib/clock-epoch").touch()
    os.utime(root / "usr/lib/clock-epoch", (_EPOCH, _EPOCH))
    shutil.rmtree(root / "usr/share/doc", ignore_errors=True)
    shutil.rmtree(root / "var/lib/apt/lists", ignore_errors=True)
    shutil.rmtree(root / "var/cache/apt", ignore_errors=True)


def _download_wheels(to: Path) -> None:
    locks = REPOSITORY / "systemd/locks.py"
    _run(sys.executable, str(locks), "download", TARGET, str(to))


def _bring(to: Path, wheels: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="understudy-source-") as name:
        source = Path(name, "understudy")
        copy_source(source)
        packed(source, wheels, to / "brought.img")


def packed(source: Path, wheels: Path, image: Path) -> None:
    """A disk of what somebody would bring to a Pi: the project, and a folder of wheels."""
    with tempfile.TemporaryDirectory(prefix="understudy-brought-") as name:
        shutil.copytree(wheels, Path(name, "wheels"))
        shutil.copytree(source, Path(name, "understudy"))
        _run("truncate", "-s", str(256 << 20), str(image))
        _run("mkfs.ext4", "-q", "-F", "-O", "^has_journal", "-d", name, str(image))


def copy_source(to: Path) -> None:
    """This repository as somebody would bring it to a Pi."""
    to.mkdir()
    for name in _SOURCE:
        place = REPOSITORY / name
        if place.is_dir():
            shutil.copytree(place, to / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(place, to / name)


# ── tools ────────────────────────────────────────────────────────────────────────────────────────


def _run(*words: str, cwd: Path | None = None) -> None:
    done = subprocess.run(words, cwd=cwd, capture_output=True, text=True)
    if done.returncode:
        raise Missing(f"{' '.join(words)}: {done.returncode}\n{done.stdout}{done.stderr}"[-3000:])


def _said(*words: str) -> str:
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def main() -> int:
    """The command; its exit code."""
    try:
        guest = build_guest()
    except Missing as fault:
        print(fault, file=sys.stderr)
        return 1
    print(*guest, sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
