"""A disk that is full, read-only, damaged or held by another: said in words, nothing half-stored.

The small disk is a real one in memory (tmpfs), which takes the right to mount. Where that is
lacking, a failing write is still made with a limit on the size of files.
"""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from journal_records import MORNING, impulse, note, sounding, stamp

from controller.engine.records import LineRow, NoteRow, SoundingRow, Stamp
from controller.journal.faults import StoreDamaged, StoreFault
from controller.journal.keeping import restore
from controller.journal.schema import set_aside
from controller.journal.store import (
    FOLD_AFTER_COMMITS,
    FOLD_AT_FRAMES,
    FRAME_BYTES,
    ROOM_BYTES,
    Store,
)

SMALL_DISK_BYTES = 3 * ROOM_BYTES
DAY_OF_MINUTES = 1440


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={SMALL_DISK_BYTES}", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        assert "CI" not in os.environ, "CI may mount, and skips nothing"
        pytest.skip("a small disk takes the right to mount; see the limit on files instead")
    yield disk
    subprocess.run(["umount", "--lazy", str(disk)], check=True)


def fill(disk: Path) -> Path:
    """Fill the disk to its last byte. Returns the file to delete to make room again."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        for piece in (65_536, 4096, 1):
            try:
                while True:
                    file.write(bytes(piece))
            except OSError:
                continue
    return filler


def newest(store: Store, kind: type) -> object:
    (record,) = (record for record in store.load() if type(record) is kind)
    return record


def test_a_day_of_impulses_and_bells_is_stored_on_a_full_disk(small_disk: Path):
    store = Store(small_disk / "store.db")
    store.commit([stamp(0), impulse(0)])
    fill(small_disk)
    for minute in range(1, DAY_OF_MINUTES + 1):
        store.commit([stamp(minute), impulse(minute)])
        if minute % 10 == 0:  # as many bells as a busy school rings
            store.commit([stamp(minute), sounding(minute, "begun")])
            store.commit([stamp(minute), sounding(minute, "done")])
        try:
            store.fold()
        except StoreFault as fault:
            assert "the disk is full" in str(fault)  # noqa: PT017
            assert not store.room_ready
    assert newest(store, LineRow) == impulse(DAY_OF_MINUTES)
    assert sum(type(record) is SoundingRow for record in store.load()) == DAY_OF_MINUTES // 10
    store.close()


def test_a_batch_that_does_not_fit_is_not_stored_at_all_and_storing_resumes(small_disk: Path):
    store = Store(small_disk / "store.db")
    filler = fill(small_disk)
    for batch in range(1, 100):
        try:
            store.commit(
                [
                    stamp(batch),
                    *(note(n, "n" * 400) for n in range(batch * 1000, batch * 1000 + 999)),
                ]
            )
        except StoreFault as fault:
            assert str(fault).startswith(str(small_disk / "store.db"))  # noqa: PT017
            assert "the disk is full" in str(fault)  # noqa: PT017
            break
    else:
        pytest.fail("a full disk took everything")
    assert newest(store, Stamp) == stamp(batch - 1)
    assert newest(store, NoteRow) == note((batch - 1) * 1000 + 998, "n" * 400)
    filler.unlink()
    store.commit([stamp(5000), note(10**6, "room again")])
    for _ in range(FOLD_AFTER_COMMITS):
        store.commit([stamp(5001)])
    store.fold()
    assert store.room_ready
    store.close()
    store = Store(small_disk / "store.db")
    assert newest(store, NoteRow) == note(10**6, "room again")
    store.close()


def test_a_store_opened_on_a_full_disk_says_that_no_room_is_ready(small_disk: Path):
    Store(small_disk / "store.db").close()
    filler = fill(small_disk)
    store = Store(small_disk / "store.db")
    assert not store.room_ready
    with pytest.raises(StoreFault, match="the disk is full"):
        store.make_room()
    filler.unlink()
    store.make_room()
    assert store.room_ready
    store.close()


def test_a_copy_for_which_there_is_no_room_leaves_nothing_behind(small_disk: Path):
    store = Store(small_disk / "store.db")
    store.commit([stamp(1), *(note(n, "n" * 400) for n in range(4000))])
    filler = fill(small_disk)
    with pytest.raises(StoreFault, match=r"copy.*the disk is full"):
        store.copy_to(small_disk / "copy")
    assert {file.name for file in small_disk.iterdir()} == {"store.db", "store.db-wal", "filler"}
    store.commit([stamp(2)])
    filler.unlink()
    store.copy_to(small_disk / "copy")
    assert newest(store, Stamp) == stamp(2)
    store.close()


def test_a_restore_for_which_there_is_no_room_leaves_the_store_as_it_was(small_disk: Path):
    store = Store(small_disk / "store.db")
    store.commit([stamp(1), *(note(n, "n" * 400) for n in range(4000))])
    store.copy_to(small_disk / "copy")
    store.close()
    before = store.path.read_bytes()
    fill(small_disk)
    with pytest.raises(StoreFault, match=r"store\.db.*the disk is full"):
        restore(small_disk / "copy", store.path, MORNING)
    assert {file.name for file in small_disk.iterdir()} == {"store.db", "copy", "filler"}
    assert store.path.read_bytes() == before


# Run by itself: the limit is the process's own. It ends with 0 only if all held.
LIMITED = """
import resource, sys
from pathlib import Path
from journal_records import note, stamp
from controller.journal.faults import StoreFault
from controller.journal.store import Store
path = Path(sys.argv[1])
store = Store(path)
store.commit([stamp(1), note(1)])
log = path.with_name(path.name + "-wal")
resource.setrlimit(resource.RLIMIT_FSIZE, (log.stat().st_size, resource.RLIM_INFINITY))
many = [note(number, "n" * 4000) for number in range(2, 3000)]
for turn in range(3):
    try:
        store.commit([stamp(2), *many])
    except StoreFault as fault:
        print(fault)
    else:
        sys.exit("a batch longer than any file may be was stored")
    assert set(store.load()) == {stamp(1), note(1)}
store.commit([stamp(3)])
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
store.commit([stamp(4), *many])
assert set(store.load()) == {stamp(4), many[-1]}
store.close()
store = Store(path)
assert set(store.load()) == {stamp(4), many[-1]}
"""


def test_a_failed_write_in_the_midst_of_a_batch_stores_none_of_it_and_the_next_is_whole(
    tmp_path: Path,
):
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(tmp_path / "store.db")],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("could not store") == 3


def test_a_store_on_a_read_only_disk_is_refused_in_words(small_disk: Path):
    path = small_disk / "store.db"
    store = Store(path)
    store.commit([stamp(1)])
    store.close()
    before = path.read_bytes()
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(StoreFault, match="may only be read"):
        Store(path)
    assert path.read_bytes() == before
    subprocess.run(["mount", "-o", "remount,rw", str(small_disk)], check=True)
    store = Store(path)
    assert store.load() == [stamp(1)]
    store.close()


def test_what_is_flushed_to_a_disk_that_became_read_only_counts_as_not_stored(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """The kernel answers such a flush with success; `tests/system` has a real one."""
    store = Store(tmp_path / "store.db")
    there = os.statvfs(tmp_path)
    read_only = SimpleNamespace(f_flag=there.f_flag | os.ST_RDONLY)
    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(os, "statvfs", lambda _: read_only)
        with pytest.raises(StoreFault, match="may only be read"):
            store.commit([stamp(1)])
    store.commit([stamp(1), stamp(2)])
    assert store.load() == [stamp(2)]
    store.close()


def test_a_folder_that_is_not_there_is_named(tmp_path: Path):
    with pytest.raises(StoreFault, match=r"missing/store\.db.*folder exists"):
        Store(tmp_path / "missing" / "store.db")


def test_a_store_that_another_program_holds_is_refused_and_then_opens(tmp_path: Path):
    path = tmp_path / "store.db"
    Store(path).close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreFault, match="another program holds it"):
        Store(path)
    other.execute("ROLLBACK")
    other.close()
    Store(path).close()


def test_nobody_else_can_write_while_the_store_is_open(store: Store):
    store.commit([stamp(1)])
    other = sqlite3.connect(store.path, timeout=0, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError, match="locked"):
        other.execute("UPDATE stamp SET next_play = 0")
    other.close()
    with pytest.raises(StoreFault, match="another program holds it"):
        Store(store.path)
    store.commit([stamp(2)])
    assert store.load() == [stamp(2)]


def test_what_is_no_store_at_all_is_set_aside_whole_and_a_new_one_made(tmp_path: Path):
    path = tmp_path / "store.db"
    junk = bytes(range(256)) * 64
    path.write_bytes(junk)
    with pytest.raises(StoreDamaged, match="damaged"):
        Store(path)
    assert path.read_bytes() == junk
    path.with_name("store.db-wal").write_bytes(b"a log of something")
    assert set_aside(path) == tmp_path / "store.db.damaged"
    assert (tmp_path / "store.db.damaged").read_bytes() == junk
    assert (tmp_path / "store.db.damaged-wal").read_bytes() == b"a log of something"
    store = Store(path)
    assert store.load() == []
    store.close()


def test_stores_set_aside_before_are_not_overwritten(tmp_path: Path):
    path = tmp_path / "store.db"
    for content in (b"first", b"second", b"third"):
        path.write_bytes(content)
        set_aside(path)
    aside = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    assert aside == {
        "store.db.damaged": b"first",
        "store.db.damaged-2": b"second",
        "store.db.damaged-3": b"third",
    }


def test_a_store_with_spoilt_pages_is_found_out_when_it_is_opened(tmp_path: Path):
    path = tmp_path / "store.db"
    store = Store(path)
    for number in range(200):
        store.commit([stamp(number), impulse(number), sounding(number), note(number)])
    store.close()
    content = bytearray(path.read_bytes())
    half = len(content) // 2  # what was added last; the tables' beginnings are sound
    content[half:] = os.urandom(len(content) - half)
    path.write_bytes(content)
    with pytest.raises(StoreDamaged, match="damaged"):
        Store(path)
    assert path.read_bytes() == content


@pytest.mark.parametrize("nonsense", ["[0, 5", "5", '"0"'])
def test_a_row_that_makes_no_sense_is_damage(tmp_path: Path, nonsense: str):
    store = Store(tmp_path / "store.db")
    store.commit([sounding(1)])
    store.close()
    db = sqlite3.connect(store.path, isolation_level=None)
    db.execute("UPDATE soundings SET edges = ?", (nonsense,))
    db.close()
    store = Store(store.path)
    for reading in (store.load, lambda: store.logbook(0, 2**62)):
        with pytest.raises(StoreDamaged, match=r"could not read.*damaged"):
            reading()
    store.close()


def test_a_store_cannot_be_set_aside_where_there_is_none(tmp_path: Path):
    with pytest.raises(StoreFault, match="could not be set aside"):
        set_aside(tmp_path / "store.db")


@pytest.mark.parametrize("folded", [True, False])
def test_the_log_keeps_its_length_over_thousands_of_commits(store: Store, folded: bool):
    log = store.path.with_name("store.db-wal")
    commits = 8000
    lengths = set()
    for number in range(commits):
        store.commit([stamp(number), impulse(number)])
        if folded:
            store.fold()
        lengths.add(log.stat().st_size)
    assert lengths == {ROOM_BYTES}
    assert commits * 2 * FRAME_BYTES > ROOM_BYTES  # more than it would hold without folding
    assert store.path.stat().st_size < 65_536  # and impulses do not lengthen the store either


def test_the_room_lies_in_written_blocks(store: Store):
    log = store.path.with_name("store.db-wal").stat()
    assert log.st_blocks * 512 >= ROOM_BYTES
    # A day of a single line of 30 s, each impulse stored twice, two pages a time, and what may
    # wait to be folded when the disk fills up.
    assert ROOM_BYTES >= (2880 * 2 * 2 + FOLD_AT_FRAMES) * FRAME_BYTES
