"""A bit of the store's file, or of its log, is another after a power cut: is it noticed?

Several hundred flips from a seed, each in a fresh copy of a store with a day's records in it. What
is noticed is set aside and said (`StoreDamaged`), or keeps the store shut (`StoreFault`).

SQLite checks the structure of pages; each row has a sum of its own, and each frame of the log.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from pathlib import Path
from random import Random

import pytest
from journal_records import BOOT, DAY, MINUTE, MORNING, impulse, note, sounding, stamp, welded

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source
from controller.engine.contract import HandReady, Now, Tick
from controller.engine.records import (
    EraRow,
    FollowRow,
    LineRow,
    MissRow,
    QuietRow,
    Record,
    Stamp,
    TrustRow,
)
from controller.engine.recover import recover
from controller.engine.step import step
from controller.journal import store as store_module
from controller.journal.faults import StoreFault
from controller.journal.log_sums import break_of
from controller.journal.store import FRAME_BYTES, Store

Found = set[Record] | None  # what a start reads; None: the damage was noticed
FLIPS = 300
MINUTES = 365  # of impulses; the log was folded in between, and holds the last of them
FILE, LOG = "store.db", "store.db-wal"
BUILDING = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[lines.main]
drive = "alternating"
relays = [22, 23]
[lines.annex]
drive = "single"
relays = [24]
[plans.daily]
rings = [{ at = "08:30", zones = ["north"], for = "5s" }]
[week]
wed = "daily"
"""


@pytest.fixture(scope="module")
def building() -> Building:
    return building_of("flipped", [Source("flipped.toml", BUILDING.encode())])


@pytest.fixture(scope="module", autouse=True)
def small_log() -> Iterator[None]:
    """A log of a few hundred KiB is lengthened more quickly."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store_module, "ROOM_BYTES", 400_000)
        yield


@pytest.fixture(scope="module")
def died(tmp_path_factory: pytest.TempPathFactory, small_log: None) -> Path:
    """A folder with the store as a power cut left it: the file, and a log that is not folded."""
    folder = tmp_path_factory.mktemp("died")
    store = Store(folder / "at-work.db")
    store.commit([*kept()])
    for minute in range(1, MINUTES + 1):
        store.commit([stamp(minute), impulse(minute), impulse(minute, "annex")])
        if minute % 20 == 0:
            store.commit([sounding(1_000 + minute), note(minute), missed(minute)])
        store.fold()
    for ending in ("", "-wal"):
        shutil.copyfile(folder / f"at-work.db{ending}", folder / f"store.db{ending}")
    store.close()
    for left in folder.glob("at-work*"):
        left.unlink()
    return folder


def kept() -> Iterator[Record]:
    yield QuietRow("north", MORNING + DAY, "keeper")
    yield FollowRow("2026-12-01", "none", "keeper")
    yield welded()
    yield TrustRow(BOOT, MORNING, "")
    yield EraRow(1, MORNING)


def missed(minute: int) -> MissRow:
    written = f"2026-11-25T{minute // 60:02}:{minute % 60:02}:00"
    return MissRow("south", written, MORNING + minute * MINUTE, "off")


@pytest.fixture(scope="module")
def found(died: Path, tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, list[Found]]:
    """What a start finds after each flip, in the file and in the log."""
    to = tmp_path_factory.mktemp("flipped")
    return {name: [flipped(died, to, name, seed) for seed in range(FLIPS)] for name in (FILE, LOG)}


@pytest.fixture(scope="module")
def whole(died: Path, tmp_path_factory: pytest.TempPathFactory) -> set[Record]:
    """What a start finds where nothing is flipped."""
    to = tmp_path_factory.mktemp("whole")
    shutil.copytree(died, to, dirs_exist_ok=True)
    records = loaded(to / FILE)
    assert records is not None
    return records


def flipped(died: Path, to: Path, name: str, seed: int) -> Found:
    """What a start finds after this flip in that file."""
    for file in died.iterdir():
        shutil.copyfile(file, to / file.name)
    held = bytearray((to / name).read_bytes())
    random = Random(seed)
    held[random.randrange(len(held.rstrip(b"\0")))] ^= 1 << random.randrange(8)
    (to / name).write_bytes(held)
    return loaded(to / FILE)


def loaded(path: Path) -> Found:
    try:
        store = Store(path)
    except StoreFault:
        return None
    try:
        return set(store.load())
    except StoreFault:
        return None
    finally:
        store.close()


def test_a_flip_in_the_file_is_noticed_or_harmless(
    found: Mapping[str, list[Found]], whole: set[Record]
):
    assert all(one is None or one == whole for one in found[FILE])
    assert sum(one is None for one in found[FILE]) > FLIPS // 4


@pytest.mark.parametrize("name", [FILE, LOG])
def test_a_daemon_starts_with_whatever_is_read(
    found: Mapping[str, list[Found]], building: Building, name: str
):
    for records in found[name]:
        now = Now(MORNING + MINUTES * MINUTE, MINUTES * MINUTE, BOOT, True)
        state = recover(building, records or [], now)
        for given in (Tick(), HandReady("hand-1")):
            state, _ = step(building, state, now, given)


def test_a_flip_in_the_log_is_noticed_save_in_its_last_commit(
    found: Mapping[str, list[Found]], whole: set[Record]
):
    """The last commit may look as if the power cut had left it half-written. It is one minute."""
    before_the_last = {one for one in whole if not isinstance(one, Stamp | LineRow)} | {
        stamp(MINUTES - 1), impulse(MINUTES - 1), impulse(MINUTES - 1, "annex"),
    }  # fmt: skip
    unnoticed = [one for one in found[LOG] if one is not None and one != whole]
    assert all(one == before_the_last for one in unnoticed)
    assert len(unnoticed) < FLIPS // 50


@pytest.mark.parametrize("behind", [1, 2, 3])
def test_a_frame_that_is_not_whole_is_damage_where_later_commits_were_flushed_after_it(
    died: Path, tmp_path: Path, behind: int
):
    """The last commit may be torn in any of its frames; of those before it none was left torn."""
    log = (died / LOG).read_bytes()
    heads = [log[at : at + 24] for at in range(32, len(log), FRAME_BYTES)]
    ours = [head for head in heads if head[8:16] == log[16:24]]  # the rest is of an earlier turn
    ends = [number for number, head in enumerate(ours) if head[4:8] != bytes(4)]
    for frame in range(ends[-behind - 1] + 1, ends[-behind] + 1):
        torn = bytearray(log)
        torn[32 + frame * FRAME_BYTES + 100] ^= 1
        (tmp_path / LOG).write_bytes(torn)
        assert bool(break_of(tmp_path / LOG)) == (behind > 1), frame


def test_a_log_whose_head_is_damaged_is_noticed(died: Path, tmp_path: Path):
    log = (died / LOG).read_bytes()
    for byte in range(32):
        (tmp_path / LOG).write_bytes(log[:byte] + bytes([log[byte] ^ 0x10]) + log[byte + 1 :])
        assert break_of(tmp_path / LOG) == "the head of its log is damaged"


def test_an_empty_log_and_one_of_zeros_are_whole(tmp_path: Path):
    for held in (b"", bytes(20), bytes(4096)):
        (tmp_path / LOG).write_bytes(held)
        assert break_of(tmp_path / LOG) == ""
    assert break_of(tmp_path / "none") == ""
