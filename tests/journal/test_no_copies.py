"""A restore from what is no copy of a store is refused in words, and changes nothing."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from journal_at_work import kept_store
from journal_child import holder
from journal_records import DAY, MORNING, note, stamp

from controller.journal.faults import StoreDamaged, StoreFault, StoreNewer
from controller.journal.keeping import restore
from controller.journal.schema import STEPS
from controller.journal.store import Store

LATER = MORNING + 3 * DAY


def refused(copy: Path, place: Path, kind: type[StoreFault], words: str) -> None:
    """The restore is refused in words, and neither the copy nor the store that is there changes."""
    kept_store(place, stamp(1))
    before = copy.read_bytes() if copy.is_file() else b"", place.read_bytes()
    with pytest.raises(kind, match=words) as fault:
        restore(copy, place, LATER)
    assert str(copy) in str(fault.value)
    assert (copy.read_bytes() if copy.is_file() else b"", place.read_bytes()) == before
    assert [file.name for file in place.parent.iterdir()] == ["store.db"]


def test_a_copy_that_is_not_there_is_refused(tmp_path: Path, place: Path):
    refused(tmp_path / "nowhere", place, StoreFault, "there is no such file")
    refused(tmp_path, place, StoreFault, "there is no such file")


def test_an_empty_file_is_no_copy(tmp_path: Path, place: Path):
    (tmp_path / "empty").touch()
    refused(tmp_path / "empty", place, StoreFault, "is empty; name a copy of the store")


def test_a_file_of_another_kind_is_no_copy(tmp_path: Path, place: Path):
    (tmp_path / "photo").write_bytes(bytes(range(256)) * 64)
    refused(tmp_path / "photo", place, StoreDamaged, "damaged, or is not a store")


def test_a_database_of_another_program_is_no_copy(tmp_path: Path, place: Path):
    db = sqlite3.connect(tmp_path / "recipes")
    db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    refused(tmp_path / "recipes", place, StoreFault, "not a store of this program")


def test_a_copy_of_a_newer_version_is_refused(tmp_path: Path, place: Path):
    Store(tmp_path / "newer", (*STEPS, ("CREATE TABLE wear (relay TEXT)",))).close()
    refused(tmp_path / "newer", place, StoreNewer, f"version {len(STEPS) + 1}")


def test_a_copy_with_spoilt_pages_is_refused(tmp_path: Path, place: Path):
    spoilt = kept_store(tmp_path / "spoilt", *(note(number, "n" * 400) for number in range(500)))
    content = bytearray(spoilt.read_bytes())
    middle = len(content) // 2  # notes of long ago, which no start would read
    content[middle : middle + 4096] = b"\xff" * 4096
    spoilt.write_bytes(content)
    refused(spoilt, place, StoreDamaged, "damaged")


def test_a_copy_that_ends_too_soon_is_refused(tmp_path: Path, place: Path):
    short = kept_store(tmp_path / "short", *(note(number, "n" * 400) for number in range(500)))
    short.write_bytes(short.read_bytes()[: short.stat().st_size // 2])
    refused(short, place, StoreDamaged, "damaged")


def test_a_copy_with_rows_that_make_no_sense_is_refused(copy: Path, place: Path):
    db = sqlite3.connect(copy, isolation_level=None)
    db.execute("UPDATE soundings SET rings = '{'")
    db.close()
    refused(copy, place, StoreDamaged, "damaged")


def test_the_store_itself_is_no_copy_of_it(place: Path):
    refused(place, place, StoreFault, "is the store itself")


def test_a_store_that_a_daemon_has_open_is_no_copy(tmp_path: Path, place: Path):
    daemon = holder(tmp_path / "live.db")
    refused(tmp_path / "live.db", place, StoreFault, "a daemon has it open")
    daemon.communicate("\n")
    assert daemon.returncode == 0


def test_a_folder_that_is_not_there_is_named(copy: Path, tmp_path: Path):
    with pytest.raises(StoreFault, match=r"missing/store\.db: its folder is not there"):
        restore(copy, tmp_path / "missing" / "store.db", LATER)
