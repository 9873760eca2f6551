"""Copies drawn while the store is at work: whole, plain, of one instant, and never half there."""

from __future__ import annotations

import signal
import sqlite3
from collections.abc import Callable
from itertools import chain
from pathlib import Path

import pytest
from hypothesis import given, settings
from journal_at_work import held_by
from journal_child import child
from journal_records import (
    BATCHES,
    DAY,
    MORNING,
    impulse,
    note,
    sounding,
    stamp,
    standing,
)

from controller.engine.records import NoteRow, Record, Stamp
from controller.journal import keeping
from controller.journal.faults import StoreDamaged, StoreFault
from controller.journal.store import FOLD_AFTER_COMMITS, Store


def copied(store: Store, path: Path, between: Callable[[], None]) -> None:
    part = keeping.part_of(path)
    store.draw(part, between)
    keeping.seal(part, path)


@pytest.fixture
def filled(store: Store) -> Store:
    store.commit([stamp(0), *(sounding(play) for play in range(1, 400))])
    return store


@settings(max_examples=15, deadline=None)
@given(BATCHES)
def test_a_copy_holds_what_the_store_holds(
    tmp_path_factory: pytest.TempPathFactory, batches: list[list[Record]]
):
    folder = tmp_path_factory.mktemp("copy")
    store = Store(folder / "store.db")
    for batch in batches:
        store.commit(batch)
    store.copy_to(folder / "copy")
    store.close()
    assert held_by(folder / "copy") == standing(chain.from_iterable(batches))


def test_a_copy_is_one_plain_file_that_can_be_read_where_nothing_can_be_written(
    filled: Store, tmp_path: Path
):
    filled.commit([note(1)])  # only in the log as yet
    folder = tmp_path / "stick"
    folder.mkdir()
    filled.copy_to(folder / "copy")
    assert [file.name for file in folder.iterdir()] == ["copy"]
    reader = sqlite3.connect(f"file:{folder / 'copy'}?immutable=0&mode=ro", uri=True)
    assert reader.execute("SELECT count(*) FROM soundings").fetchone() == (399,)
    assert reader.execute("SELECT number FROM notes").fetchone() == (1,)
    assert reader.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    reader.close()
    assert [file.name for file in folder.iterdir()] == ["copy"]


def test_what_is_committed_while_a_copy_is_drawn_is_in_it(
    filled: Store, tmp_path: Path, small_steps: None
):
    numbers: list[int] = []

    def between() -> None:
        number = len(numbers) + 1
        filled.commit([stamp(number), impulse(number), note(number), sounding(number % 399 + 1)])
        filled.fold()
        numbers.append(number)

    copied(filled, tmp_path / "copy", between)
    assert len(numbers) > 50
    assert held_by(tmp_path / "copy") == set(filled.load())
    assert stamp(numbers[-1]) in filled.load()


def test_a_log_that_is_folded_and_a_logbook_that_is_let_go_meanwhile_leave_the_copy_whole(
    store: Store, tmp_path: Path, small_steps: None
):
    old = [sounding(play, at=MORNING - 500 * DAY) for play in range(1, 600)]
    store.commit([stamp(0), *old, note(1)])
    turns: list[int] = []

    def between() -> None:
        turns.append(store.prune(MORNING - 400 * DAY, most=20))
        for _ in range(3):
            store.commit([stamp(len(turns)), impulse(len(turns))])
        store.fold()

    copied(store, tmp_path / "copy", between)
    assert sum(turns) == len(old)
    assert len(turns) * 4 > 2 * FOLD_AFTER_COMMITS  # it was folded, more than once
    assert held_by(tmp_path / "copy") == set(store.load())


def test_a_batch_that_could_not_be_stored_meanwhile_is_not_in_the_copy(
    filled: Store, tmp_path: Path, small_steps: None
):
    """It was on its way into the log, and into the copy, when it was taken back."""
    too_much = [*(note(number, "n" * 4000) for number in range(1, 1000)), note(2**63)]
    failed: list[StoreFault] = []

    def between() -> None:
        if len(failed) < 3:
            with pytest.raises(StoreFault) as fault:
                filled.commit(too_much)
            failed.append(fault.value)
        filled.commit([stamp(5)])

    copied(filled, tmp_path / "copy", between)
    assert len(failed) == 3
    assert held_by(tmp_path / "copy") == set(filled.load())
    assert not [row for row in filled.load() if isinstance(row, NoteRow)]


def test_a_copy_never_takes_the_place_of_another_file(filled: Store, tmp_path: Path):
    (tmp_path / "copy").write_bytes(b"of another year")
    with pytest.raises(StoreFault, match=r"copy: is there already, and is not overwritten"):
        filled.copy_to(tmp_path / "copy")
    assert (tmp_path / "copy").read_bytes() == b"of another year"


def test_a_copy_into_a_folder_that_is_not_there_is_refused_in_words(filled: Store, tmp_path: Path):
    with pytest.raises(StoreFault, match=r"missing/copy.*folder exists"):
        filled.copy_to(tmp_path / "missing" / "copy")


def test_a_drawing_that_is_given_up_leaves_nothing_and_the_store_goes_on(
    filled: Store, tmp_path: Path, small_steps: None
):
    def given_up() -> None:
        raise StoreFault("nobody waits for it")

    with pytest.raises(StoreFault, match="nobody waits"):
        copied(filled, tmp_path / "copy", given_up)
    filled.commit([stamp(9)])
    filled.copy_to(tmp_path / "copy")
    assert {file.name for file in tmp_path.iterdir()} == {"copy", "store.db", "store.db-wal"}
    assert stamp(9) in held_by(tmp_path / "copy")


def test_damaged_pages_make_no_copy_and_are_told_as_the_stores_own(tmp_path: Path):
    store = Store(tmp_path / "store.db")
    store.commit([stamp(1), *(note(number, "n" * 4000) for number in range(2000))])
    store.close()
    store = Store(tmp_path / "store.db")
    with store.path.open("rb+") as file:  # the card goes bad under it
        file.seek(1_000_000)
        file.write(b"\xff" * 1_000_000)
    with pytest.raises(StoreDamaged, match=r"copy: no copy was made: the store has damaged pages"):
        store.copy_to(tmp_path / "copy")
    assert not (tmp_path / "copy").exists()
    assert not keeping.part_of(tmp_path / "copy").exists()
    store.close()


# Commits between the steps of a copy that it makes again and again; says each number once stored.
COPIER = """
import itertools, sys
from pathlib import Path
from journal_records import impulse, note, sounding, stamp
from controller.journal import keeping
from controller.journal.store import Store
keeping.DRAWN_PAGES = 2
store = Store(Path(sys.argv[1]))
store.commit([sounding(play) for play in range(1, 400)])
numbers = itertools.count(1)
def between():
    number = next(numbers)
    store.commit([stamp(number), impulse(number), note(number)])
    print(number, flush=True)
while True:
    store.draw(Path(sys.argv[2]), between)
"""


@pytest.mark.parametrize("commits", [1, 60, 300])
def test_a_kill_in_the_midst_of_a_copy_loses_nothing_and_the_next_copy_is_whole(
    tmp_path: Path, commits: int
):
    path, copy = tmp_path / "store.db", tmp_path / "copy"
    copier = child(COPIER, path, keeping.part_of(copy))
    assert copier.stdout is not None
    for _ in range(commits):
        assert copier.stdout.readline()
    copier.send_signal(signal.SIGKILL)
    said = copier.stdout.read().split()
    assert copier.wait() == -signal.SIGKILL
    last = int(said[-1]) if said else commits
    assert not copy.exists()  # what is not finished has not the name of a copy
    assert keeping.part_of(copy).exists()
    store = Store(path)
    (newest,) = (row for row in store.load() if isinstance(row, Stamp))
    assert newest.next_play in (last, last + 1)
    store.copy_to(copy)
    assert not keeping.part_of(copy).exists()
    assert held_by(copy) == set(store.load())
    store.close()
