"""The store under a daemon at work: its disk full for real, its card standing still for 20 s."""

from __future__ import annotations

import itertools
import os
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

LINE = """
[lines.main]
drive = "alternating"
relays = [22, 23]
impulse = "250ms"
gap = "250ms"
"""
STANDING_CARD = r"""
#define _GNU_SOURCE
#include <dlfcn.h>
#include <unistd.h>
/* A card that stands still while a file lies there: every flush waits for it to go. */
static void stand(void) { while (access(STANDS, F_OK) == 0) usleep(20000); }
int fdatasync(int file) {
    static int (*real)(int);
    if (!real) real = dlsym(RTLD_NEXT, "fdatasync");
    stand();
    return real(file);
}
int fsync(int file) {
    static int (*real)(int);
    if (!real) real = dlsym(RTLD_NEXT, "fsync");
    stand();
    return real(file);
}
"""


def impulses(house) -> int:
    return len(house.changes("contact", "lines.main+") + house.changes("contact", "lines.main-"))


def dials(house) -> set[int]:
    with house.board() as board:
        return set(board.state()["lines"]["main"]["shows"])


def lasting(house) -> list[str]:
    return [fault["name"] for fault in house.picture()["faults"] if not fault["until"]]


def at_work_without_storing(house) -> None:
    """Bells ring and dials are driven on, and the state says what a cut would come to now."""
    before = impulses(house)
    house.wait(lambda: impulses(house) >= before + 6)
    assert "rings now" in house.ask("ring", zones=["north"], **{"for": "500ms"})
    house.wait(lambda: len(house.changes("pin", "GPIO17")) >= 2)
    assert "store" in lasting(house)
    (says,) = (f["says"] for f in house.picture()["faults"] if f["name"] == "store")
    assert "after a power cut now the dials would have to be read" in says


@pytest.fixture
def small_disk(installation) -> Iterator[Path]:
    """The state folder on a disk of its own, far too small."""
    state = installation.state
    mount = ["mount", "-t", "tmpfs", "-o", "size=80k", "understudy-test", str(state)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        assert "CI" not in os.environ, "CI may mount, and skips nothing"
        pytest.skip("a small disk takes the right to mount")
    yield state
    if installation.process is not None and installation.process.poll() is None:
        installation.process.kill()
        installation.process.wait()
    subprocess.run(["umount", str(state)], check=True)


def test_a_full_disk_stops_nothing_is_loud_and_a_restart_meanwhile_is_exact(
    installation, small_disk
):
    installation.write(lines=LINE)
    installation.dials_behind("main", 200)
    installation.started()
    installation.wait(lambda: "store" in lasting(installation), 60)
    at_work_without_storing(installation)
    installation.kill_daemon()
    installation.process.wait(10)
    installation.started()
    assert not installation.picture()["lines"]["main"]["doubtful"]
    subprocess.run(["mount", "-o", "remount,size=16m", str(small_disk)], check=True)
    installation.wait(lambda: "store" not in lasting(installation), 60)
    exact(installation)
    assert installation.end() == 0


@pytest.fixture
def standing_card(installation, tmp_path, monkeypatch) -> Path:
    """A daemon whose flushes stand still for as long as this file is there."""
    stands = tmp_path / "stands"
    source, shim = tmp_path / "card.c", tmp_path / "card.so"
    source.write_text(STANDING_CARD)
    subprocess.run(
        ["gcc", "-shared", "-fPIC", "-O1", f'-DSTANDS="{stands}"', "-o", shim, source, "-ldl"],
        check=True,
    )
    monkeypatch.setenv("LD_PRELOAD", str(shim))
    return stands


def test_a_card_that_stands_still_for_20_s_stops_nothing_and_nothing_is_lost(
    installation, standing_card
):
    installation.write(lines=LINE)
    installation.dials_behind("main", 200)
    installation.started()
    installation.wait(lambda: impulses(installation) >= 4)
    standing_card.touch()
    began = time.monotonic()
    installation.wait(lambda: "store" in lasting(installation), 15)
    at_work_without_storing(installation)
    installation.wait(lambda: time.monotonic() > began + 20)
    standing_card.unlink()
    installation.wait(lambda: "store" not in lasting(installation))
    installation.wait(lambda: not (installation.runtime / "unstored.json").exists())
    exact(installation)
    closings = installation.changes("contact", "lines.main+")
    closings += installation.changes("contact", "lines.main-")
    monos = sorted(change.mono for change in closings if change.to)
    waits = [(b - a) / 1e9 for a, b in itertools.pairwise(monos)]
    assert max(waits) < 6, "only until it was clear that the card stands"
    assert installation.end() == 0


def exact(house) -> None:
    """The dials show what is believed, all of them."""

    def as_believed() -> bool:
        hours, minutes = map(int, house.picture()["lines"]["main"]["shows"].split(":"))
        return dials(house) == {hours * 60 + minutes}

    house.ask("hold", line="main")
    house.wait(as_believed)
