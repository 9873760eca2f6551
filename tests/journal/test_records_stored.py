"""What is stored is read back as it was; the newest record of a key stands for all before it."""

from __future__ import annotations

import sqlite3
from itertools import chain
from pathlib import Path

import pytest
from hypothesis import given, settings
from journal_records import (
    BATCHES,
    DAY,
    MINUTE,
    MORNING,
    SECOND,
    impulse,
    note,
    sounding,
    stamp,
    standing,
    welded,
)

from controller.engine import records
from controller.engine.records import FollowRow, MissRow, QuietRow, Record, TrustRow
from controller.journal import rows, schema
from controller.journal.faults import StoreFault
from controller.journal.store import Store


@given(BATCHES)
@settings(deadline=None)
def test_every_record_is_read_back_as_the_newest_of_its_key(batches: list[list[Record]]):
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.migrate(db, Path("none"), schema.STEPS)
    for record in chain.from_iterable(batches):
        rows.put(db, record)
    read = list(rows.newest(db))
    assert set(read) == standing(chain.from_iterable(batches))
    assert len(read) == len(set(read))
    for record in read:  # True and 1 are equal in Python; a record must hold the right one
        assert repr(record) in {repr(before) for before in chain.from_iterable(batches)}


@given(BATCHES)
@settings(max_examples=15, deadline=None)
def test_a_store_closed_and_opened_again_holds_what_it_held(
    tmp_path_factory: pytest.TempPathFactory, batches: list[list[Record]]
):
    path = tmp_path_factory.mktemp("store") / "store.db"
    store = Store(path)
    for batch in batches:
        store.commit(batch)
    store.close()
    store = Store(path)
    assert set(store.load()) == standing(chain.from_iterable(batches))
    store.close()


@pytest.mark.parametrize(
    ("table", "record", "apart"),
    [
        ("stamp", records.Stamp, {"one"}),
        ("soundings", records.SoundingRow, set()),
        ("misses", records.MissRow, {"number", "withdrawn"}),
        ("miss_counts", records.MissCount, set()),
        ("quiet", records.QuietRow, set()),
        ("follow", records.FollowRow, set()),
        ("notes", records.NoteRow, set()),
        ("faults", records.FaultRow, set()),
        ("trust", records.TrustRow, {"one"}),
    ],
)
def test_every_field_of_a_record_has_its_column(table: str, record: type, apart: set[str]):
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.migrate(db, Path("none"), schema.STEPS)
    columns = {row[1] for row in db.execute(f"PRAGMA table_info({table})")}
    assert columns - apart - {"sum"} == set(record._fields)


def test_every_field_of_a_line_and_of_its_impulse_has_its_column():
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.migrate(db, Path("none"), schema.STEPS)
    columns = {row[1] for row in db.execute("PRAGMA table_info(lines)")}
    of_the_step = {f"step_{field}" for field in records.StepRow._fields}
    assert columns - {"sum"} == (set(records.LineRow._fields) - {"step"}) | of_the_step


def test_a_void_sounding_leaves_neither_itself_nor_its_identities(store: Store):
    store.commit([stamp(1), sounding(7, "begun")])
    store.commit([stamp(2), sounding(7, "void")])
    assert store.load() == [stamp(2)]
    assert store.logbook(0, MORNING + DAY) == []


def test_a_sounding_that_ended_replaces_its_beginning(store: Store):
    store.commit([sounding(7, "begun")])
    store.commit([sounding(7, "cut")])
    assert store.load() == [sounding(7, "cut")]


def test_a_withdrawn_miss_is_kept_for_the_logbook_alone(store: Store):
    miss = MissRow("north", "2026-11-25T08:30:00", MORNING, "late")
    store.commit([miss])
    store.commit([miss._replace(why="")])
    assert store.load() == []
    (entry,) = store.logbook(0, MORNING + DAY)
    assert (entry.kind, entry.how, entry.text) == ("missed", "withdrawn", "late")


def test_a_miss_after_a_withdrawn_one_stands_again(store: Store):
    miss = MissRow("north", "2026-11-25T08:30:00", MORNING, "late")
    for why in ("late", "", "supply"):
        store.commit([miss._replace(why=why)])
    assert store.load() == [miss._replace(why="supply")]


def test_orders_that_are_taken_back_are_gone(store: Store):
    store.commit([QuietRow("north", MORNING, "keeper"), FollowRow("2026-12-18", "none", "keeper")])
    assert len(store.load()) == 2
    store.commit([QuietRow("north", 0, "keeper"), FollowRow("2026-12-18", "usual", "keeper")])
    assert store.load() == []


def test_a_fault_that_ended_stays_until_it_is_acknowledged(store: Store):
    ended = welded(until=MORNING + MINUTE)
    store.commit([welded()])
    store.commit([ended])
    assert store.load() == [ended]
    store.commit([ended._replace(acknowledged=True)])
    assert store.load() == []


def test_a_fault_that_lasts_cannot_be_acknowledged_away(store: Store):
    store.commit([welded(), welded("hall", until=MORNING + MINUTE)])
    seen = welded()._replace(acknowledged=True)
    store.commit([seen, welded("hall", until=MORNING + MINUTE)._replace(acknowledged=True)])
    assert store.load() == [seen]


def test_of_all_words_on_the_clock_the_last_one_counts(store: Store):
    store.commit([TrustRow("the first run", MORNING, "keeper")])
    store.commit([TrustRow("the second run", MORNING + DAY, "restorer")])
    assert store.load() == [TrustRow("the second run", MORNING + DAY, "restorer")]
    store.commit([TrustRow("", MORNING + DAY, "")])
    assert store.load() == [TrustRow("", MORNING + DAY, "")]


@pytest.mark.parametrize("name", ["main", "m" * 40])
def test_an_impulse_costs_two_pages_however_long_the_name_of_its_line(store: Store, name: str):
    store.commit([stamp(0), impulse(0, name)])
    frames = []
    for number in range(1, 20):
        store._db.execute("PRAGMA wal_checkpoint(PASSIVE)")
        store.commit([stamp(number), impulse(number, name)])
        frames.append(store._db.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()[1])
    assert set(frames) == {2}


def test_of_all_notes_only_the_last_is_read_at_a_start(store: Store):
    store.commit([note(2), note(3, "held"), note(1)])
    assert store.load() == [note(3, "held")]


def test_soundings_not_ended_are_read_however_long_ago_and_the_others_as_far_as_the_bound(
    store: Store, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(rows, "NEWEST_SOUNDINGS", 3)
    monkeypatch.setattr(rows, "NEWEST_MISSES", 2)
    begun = [sounding(play, "begun") for play in (1, 10, 11)]
    store.commit([*begun, *(sounding(play) for play in range(2, 10))])
    store.commit([MissRow("north", f"2026-11-{day}T08:30:00", day, "off") for day in range(10, 20)])
    read = store.load()
    assert {row.play for row in read if isinstance(row, records.SoundingRow)} == {
        1,
        7,
        8,
        9,
        10,
        11,
    }
    assert {row.due for row in read if isinstance(row, records.MissRow)} == {18, 19}


def test_what_no_store_can_hold_is_refused_with_the_whole_batch(store: Store):
    store.commit([stamp(1)])
    for bad in (note(1, "half a \ud800"), note(2**63), impulse(1)._replace(polarity="x")):
        with pytest.raises(StoreFault, match="a fault of the program"):
            store.commit([stamp(2), bad])
        assert store.load() == [stamp(1)]
    store.commit([stamp(3)])
    assert store.load() == [stamp(3)]


def test_a_store_belongs_to_the_thread_that_opened_it(store: Store):
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(1) as other:
        work = other.submit(store.commit, [stamp(1)])
        with pytest.raises(sqlite3.ProgrammingError, match="thread"):
            work.result()
    assert store.load() == []


def test_every_commit_is_flushed_in_full(store: Store):
    (synchronous,) = store._db.execute("PRAGMA synchronous").fetchone()
    (mode,) = store._db.execute("PRAGMA journal_mode").fetchone()
    assert (synchronous, mode) == (2, "wal")  # 2 is FULL


def test_the_length_of_an_impulse_is_kept_to_the_nanosecond(store: Store):
    odd = sounding(1)._replace(edges=(0, 5 * SECOND + 1, 9 * SECOND + 999_999_999, 11 * MINUTE + 7))
    store.commit([odd])
    assert store.load() == [odd]
