"""Older stores are brought up to date after a copy; newer ones and others' are left untouched."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from journal_records import (
    BOOT,
    DAY,
    MINUTE,
    MORNING,
    impulse,
    note,
    sounding,
    stamp,
    welded,
)

from controller.engine.records import (
    EraRow,
    FollowRow,
    LineRow,
    MissCount,
    MissRow,
    QuietRow,
    StepRow,
    TrustRow,
)
from controller.journal.faults import StoreFault, StoreNewer
from controller.journal.schema import APPLICATION, STEPS, bring_up
from controller.journal.store import PAGE_BYTES, Store

VERSION_1 = Path(__file__).with_name("version_1.sql")
KEPT_LATER = [Path(__file__).with_name(f"version_{number}.sql") for number in (2, 3)]
HELD = [stamp(1), impulse(1), sounding(1), QuietRow("south", MORNING, "keeper"), note(1)]
# Two versions after today's, as they might come.
WITH_BATTERY = (
    "ALTER TABLE stamp ADD COLUMN volts INTEGER",
    "CREATE TABLE battery (volts INTEGER)",
)
WITH_WEAR = ("CREATE TABLE wear (relay TEXT PRIMARY KEY, closings INTEGER NOT NULL) STRICT",)
FAILING = ("CREATE TABLE wear (relay TEXT)", "INSERT INTO nowhere VALUES (1)")


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """A store of today's version, closed."""
    store = Store(tmp_path / "store.db")
    store.commit(HELD)
    store.close()
    return store.path


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """A store as the first released version left it."""
    path = brought_back(VERSION_1, tmp_path / "store.db")
    assert version_of(path) == 1
    return path


def brought_back(kept: Path, path: Path) -> Path:
    """A kept store, as a file again."""
    db = sqlite3.connect(path, isolation_level=None)
    db.executescript(kept.read_text(encoding="utf-8"))
    db.close()
    return path


def version_of(path: Path) -> int:
    db = sqlite3.connect(path)
    (version,) = db.execute("PRAGMA user_version").fetchone()
    db.close()
    return int(version)


def test_the_first_released_version_never_changes():
    kept, made = (sqlite3.connect(":memory:", isolation_level=None) for _ in range(2))
    kept.executescript(VERSION_1.read_text(encoding="utf-8"))
    bring_up(made, STEPS[:1])
    for db in (kept, made):
        assert db.execute("PRAGMA user_version").fetchone() == (1,)
        assert db.execute("PRAGMA application_id").fetchone() == (APPLICATION,)
    tables = "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name"
    assert kept.execute(tables).fetchall() == made.execute(tables).fetchall()


def test_a_store_of_the_first_version_goes_on_with_all_that_it_knew(first: Path):
    store = Store(first)
    out = StepRow(431, "+", MORNING, 431 * MINUTE, BOOT, True, False)
    before_that = MORNING - MINUTE
    held = LineRow("hall", False, 0, 720, "-", False, True, None, 0, polarity_known=False)
    driven = LineRow("main", True, 431, 720, "+", False, False, out, MORNING, True, -1)
    doubtful = LineRow("yard", True, 12, 1440, "-", True, False, None, before_that, True, -1)
    assert set(store.load()) == {
        stamp(432), held, driven, doubtful, sounding(7),
        sounding(8, "begun", at=MORNING + 5 * MINUTE, zone="south"),
        MissRow("south", "2026-11-25T08:30:00", MORNING, "supply"),
        MissCount(12, MORNING - DAY, MORNING - MINUTE, "off"),
        QuietRow("north", MORNING + DAY, "keeper"), FollowRow("2026-12-18", "none", "keeper"),
        note(41, "set to 07:11"),
    }  # fmt: skip
    assert repr(driven) in map(repr, store.load())  # True, and not 1
    towed = driven._replace(step=None, target=0, polarity_known=False)
    store.commit([towed, welded(), TrustRow(BOOT, MORNING, "keeper")])
    assert {towed, welded(), TrustRow(BOOT, MORNING, "keeper")} <= set(store.load())
    assert len(store.logbook(0, 2**62)) == 5
    store.close()
    copy = first.with_name(f"store.db.before-v{len(STEPS)}")
    assert {file.name for file in first.parent.iterdir()} == {"store.db", copy.name}
    assert version_of(copy) == 1
    assert version_of(first) == len(STEPS)


def test_there_is_a_kept_store_of_every_version():
    assert len([VERSION_1, *KEPT_LATER]) == len(STEPS)


@pytest.mark.parametrize("kept", KEPT_LATER, ids=lambda kept: kept.stem)
def test_a_kept_store_of_a_later_version_goes_on_with_all_that_it_knew(kept: Path, tmp_path: Path):
    store = Store(brought_back(kept, tmp_path / "store.db"))
    out = StepRow(431, "+", MORNING, 431 * MINUTE, BOOT, True, False)
    assert set(store.load()) == {
        stamp(432),
        LineRow("hall", False, 0, 720, "-", False, True, None, 0, polarity_known=False),
        LineRow("main", True, 431, 720, "+", False, False, out, MORNING, True, -1),
        LineRow("yard", True, 12, 1440, "-", True, True, None, MORNING - MINUTE, False, 720),
        sounding(7), sounding(8, "begun", at=MORNING + 5 * MINUTE, zone="south"),
        MissRow("south", "2026-11-25T08:30:00", MORNING, "supply"),
        MissCount(12, MORNING - DAY, MORNING - MINUTE, "off"),
        QuietRow("north", MORNING + DAY, "keeper"), FollowRow("2026-12-18", "none", "keeper"),
        note(41, "set to 07:11"), welded("hall"), TrustRow(BOOT, MORNING, "keeper"),
        EraRow(1, MORNING - DAY),
    }  # fmt: skip
    store.close()
    assert version_of(store.path) == len(STEPS)


def test_a_start_cut_in_the_midst_of_bringing_a_store_up_to_date_leaves_the_first_version(
    first: Path,
):
    later = [*STEPS[1], *STEPS[2]]
    for length in range(len(later)):
        cut = (STEPS[0], (*later[:length], "INSERT INTO nowhere VALUES (1)"))
        with pytest.raises(StoreFault, match="could not open the store"):
            Store(first, cut)
        assert version_of(first) == 1
        assert [file.name for file in first.parent.iterdir()] == ["store.db"]
    store = Store(first)
    assert stamp(432) in store.load()
    store.close()


def test_a_new_store_has_the_newest_version_small_pages_and_our_mark(tmp_path: Path):
    Store(tmp_path / "store.db").close()
    db = sqlite3.connect(tmp_path / "store.db")
    assert db.execute("PRAGMA user_version").fetchone() == (len(STEPS),)
    assert db.execute("PRAGMA page_size").fetchone() == (PAGE_BYTES,)
    assert db.execute("PRAGMA application_id").fetchone() == (APPLICATION,)
    assert db.execute("PRAGMA auto_vacuum").fetchone() == (0,)
    db.close()
    assert [file.name for file in tmp_path.iterdir()] == ["store.db"]  # and no copy was made


def test_an_empty_file_becomes_a_store(tmp_path: Path):
    (tmp_path / "store.db").touch()
    store = Store(tmp_path / "store.db")
    store.commit([stamp(1)])
    store.close()
    assert version_of(tmp_path / "store.db") == len(STEPS)


def test_a_store_cut_while_it_was_made_is_made_anew(tmp_path: Path):
    db = sqlite3.connect(tmp_path / "store.db")
    db.execute("PRAGMA journal_mode = WAL")  # as far as it came: no table yet
    db.close()
    assert (tmp_path / "store.db").stat().st_size > 0
    store = Store(tmp_path / "store.db")
    store.commit([stamp(1)])
    assert store.load() == [stamp(1)]
    store.close()


def test_an_older_store_is_copied_beside_and_then_brought_up_over_all_versions(older: Path):
    steps = (*STEPS, WITH_BATTERY, WITH_WEAR)
    Store(older, steps).close()
    assert version_of(older) == len(STEPS) + 2
    db = sqlite3.connect(older)
    assert db.execute("SELECT next_play, volts FROM stamp").fetchone() == (1, None)
    assert db.execute("SELECT count(*) FROM battery, wear").fetchone() == (0,)
    db.close()
    copy = older.with_name(f"store.db.before-v{len(STEPS) + 2}")
    assert version_of(copy) == len(STEPS)
    store = Store(copy)  # the copy is a whole store
    assert set(store.load()) == set(HELD)
    store.close()


def test_what_is_only_in_the_log_is_in_the_copy_too(older: Path):
    child = (
        "import os, sys; from pathlib import Path; from journal_records import stamp;"
        "from controller.journal.store import Store;"
        "Store(Path(sys.argv[1])).commit([stamp(9)]); os.kill(os.getpid(), 9)"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run([sys.executable, "-c", child, str(older)], env=environment, check=False)
    assert done.returncode == -signal.SIGKILL
    Store(older, (*STEPS, WITH_WEAR)).close()
    store = Store(older.with_name(f"store.db.before-v{len(STEPS) + 1}"))
    assert stamp(9) in store.load()
    store.close()


def test_a_step_that_fails_leaves_the_store_as_it_was_and_no_copy(older: Path):
    with pytest.raises(StoreFault, match="could not open the store"):
        Store(older, (*STEPS, WITH_BATTERY, FAILING))
    assert version_of(older) == len(STEPS)
    assert [file.name for file in older.parent.iterdir()] == ["store.db"]
    store = Store(older)
    assert set(store.load()) == set(HELD)
    store.close()


def test_a_copy_made_before_is_not_overwritten(older: Path):
    copy = older.with_name(f"store.db.before-v{len(STEPS) + 1}")
    copy.write_bytes(b"of another year")
    Store(older, (*STEPS, WITH_WEAR)).close()
    assert copy.read_bytes() == b"of another year"
    assert version_of(copy.with_name(copy.name + "-2")) == len(STEPS)


def test_a_newer_store_is_refused_in_words_and_left_untouched(older: Path):
    Store(older, (*STEPS, WITH_WEAR)).close()
    older.with_name(f"store.db.before-v{len(STEPS) + 1}").unlink()
    before = older.read_bytes(), older.stat().st_mtime_ns
    with pytest.raises(
        StoreNewer, match=rf"version {len(STEPS) + 1}.*up to {len(STEPS)}\b.*left untouched"
    ):
        Store(older)
    assert (older.read_bytes(), older.stat().st_mtime_ns) == before
    assert [file.name for file in older.parent.iterdir()] == ["store.db"]


def test_a_newer_store_that_ended_uncleanly_is_left_untouched_with_its_log(older: Path):
    child = (
        "import os, sys; from pathlib import Path; from journal_records import note;"
        "from controller.journal.schema import STEPS; from controller.journal.store import Store;"
        "steps = (*STEPS, ('CREATE TABLE wear (relay TEXT)',));"
        "Store(Path(sys.argv[1]), steps).commit([note(9)]); os.kill(os.getpid(), 9)"
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run([sys.executable, "-c", child, str(older)], env=environment, check=False)
    assert done.returncode == -signal.SIGKILL
    before = {file.name: file.read_bytes() for file in older.parent.iterdir()}
    with pytest.raises(StoreNewer):
        Store(older)
    assert {file.name: file.read_bytes() for file in older.parent.iterdir()} == before


def test_a_database_of_another_program_is_left_untouched(tmp_path: Path):
    path = tmp_path / "store.db"
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    before = path.read_bytes()
    with pytest.raises(StoreFault, match="not a store of this program"):
        Store(path)
    assert path.read_bytes() == before
