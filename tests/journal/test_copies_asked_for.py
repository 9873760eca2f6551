"""Copies that other threads ask for while the store works: commits go between their steps."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import pytest
from journal_at_work import PATIENT_SECONDS, Journal, held_by
from journal_records import DAY, MORNING, impulse, note, sounding, stamp

from controller.engine.records import NoteRow
from controller.journal.faults import StoreFault
from controller.journal.store import Store
from controller.service import journal_thread

LATER = MORNING + DAY


@pytest.fixture(autouse=True)
def in_small_steps(small_steps: None) -> None:
    """Every copy takes many steps."""


def after_each_step(monkeypatch: pytest.MonkeyPatch, then: Callable[[int], None]) -> list[int]:
    """On the store's thread, before what waits there is done. Returns the steps so far."""
    draw = Store.draw
    steps: list[int] = []

    def watched(store: Store, part: Path, between: Callable[[], None]) -> None:
        def stepping() -> None:
            steps.append(len(steps))
            then(steps[-1])
            between()

        draw(store, part, stepping)

    monkeypatch.setattr(Store, "draw", watched)
    return steps


def a_full_store(journal: Journal) -> None:
    assert journal.store(stamp(0), *(sounding(play) for play in range(1, 300)))


def test_commits_and_pages_of_the_logbook_go_between_the_steps_of_a_copy(
    journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    a_full_store(journal)
    told: list[Future[bool]] = []
    read: list[Future[list[Any]]] = []
    stood: list[int] = []

    def then(step: int) -> None:
        stood.append(sum(word.done() for word in told))
        number = step + 1
        told.append(journal.put(stamp(number), impulse(number), note(number)))
        if step == 10:
            read.append(journal.asking.submit(journal.thread.read_logbook, 0, LATER, 5))

    steps = after_each_step(monkeypatch, then)
    journal.thread.copy_to(tmp_path / "copy")
    assert len(steps) > 50
    assert stood == steps  # at every step all that came before it had been stored
    assert all(word.result(0) for word in told)
    assert len(read[0].result(PATIENT_SECONDS)) >= 5
    assert stamp(len(steps)) in held_by(tmp_path / "copy")
    notes = [row for row in held_by(tmp_path / "copy") if isinstance(row, NoteRow)]
    assert notes == [note(len(steps))]
    assert {file.name for file in tmp_path.iterdir()} == {"copy", "store.db", "store.db-wal"}


def test_one_copy_is_made_at_a_time(
    journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    a_full_store(journal)
    refused: list[str] = []

    def then(step: int) -> None:
        if step == 3:
            with pytest.raises(StoreFault) as fault:
                journal.asking.submit(journal.thread.copy_to, tmp_path / "another").result(
                    PATIENT_SECONDS
                )
            refused.append(str(fault.value))

    after_each_step(monkeypatch, then)
    journal.thread.copy_to(tmp_path / "copy")
    assert ["another copy is being made" in words for words in refused] == [True]
    journal.thread.copy_to(tmp_path / "another")


def test_a_name_that_is_taken_is_refused_and_the_next_copy_is_made(
    journal: Journal, tmp_path: Path
):
    (tmp_path / "copy").touch()
    with pytest.raises(StoreFault, match="is there already"):
        journal.thread.copy_to(tmp_path / "copy")
    journal.thread.copy_to(tmp_path / "copy-2")
    assert (tmp_path / "copy").read_bytes() == b""


def test_a_copy_under_way_ends_with_the_store_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    journal = Journal(tmp_path / "store.db")
    a_full_store(journal)
    ending: list[threading.Thread] = []
    told: list[Future[bool]] = []

    def then(step: int) -> None:
        if step == 5:
            told.append(journal.put(stamp(9)))
            ending.append(threading.Thread(target=journal.thread.close, args=[PATIENT_SECONDS]))
            ending[0].start()
            journal.waiting(2)

    steps = after_each_step(monkeypatch, then)
    with pytest.raises(StoreFault, match="the store is closed"):
        journal.thread.copy_to(tmp_path / "copy")
    ending[0].join(PATIENT_SECONDS)
    assert told[0].result(0)
    assert len(steps) == 6
    journal.asking.shutdown()
    assert [file.name for file in tmp_path.iterdir()] == ["store.db"]
    assert stamp(9) in held_by(tmp_path / "store.db")


def test_a_copy_is_waited_for_as_long_as_it_moves_on(
    journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """The time for an answer passes twice, with a step in between, and then it is whole."""
    a_full_store(journal)
    moved = threading.Event()
    looked = threading.Semaphore(0)
    looks: list[float] = []

    class Passing(Future[Any]):
        def result(self, timeout: float | None = None) -> Any:
            assert timeout is not None
            looks.append(timeout)
            if len(looks) > 2:
                return super().result(timeout)
            assert moved.wait(PATIENT_SECONDS)
            moved.clear()
            looked.release()
            raise TimeoutError

    def then(step: int) -> None:
        if step in (2, 3):  # a step was done before, so it has moved
            moved.set()
            assert looked.acquire(timeout=PATIENT_SECONDS)

    after_each_step(monkeypatch, then)
    monkeypatch.setattr(journal_thread, "Future", Passing)
    journal.thread.copy_to(tmp_path / "copy")
    assert len(looks) == 3
    assert stamp(0) in held_by(tmp_path / "copy")


def test_a_copy_that_nobody_waits_for_any_more_is_given_up(
    journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    a_full_store(journal)
    hanging, free = threading.Event(), threading.Event()

    class Passing(Future[Any]):
        def result(self, timeout: float | None = None) -> Any:
            assert hanging.wait(PATIENT_SECONDS)
            raise TimeoutError

    def then(step: int) -> None:
        hanging.set()
        assert free.wait(PATIENT_SECONDS)

    steps = after_each_step(monkeypatch, then)
    with monkeypatch.context() as patch:
        patch.setattr(journal_thread, "Future", Passing)
        with pytest.raises(StoreFault, match="did not answer within"):
            journal.thread.copy_to(tmp_path / "copy")
    free.set()
    assert journal.store(stamp(1))
    assert steps == [0]
    assert not (tmp_path / "copy").exists()


def test_a_copy_has_an_end_even_where_the_store_changes_all_the_while(
    journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    a_full_store(journal)
    monkeypatch.setattr(journal_thread, "COPY_SECONDS", 0.0)
    with pytest.raises(StoreFault, match="did not answer within"):
        journal.thread.copy_to(tmp_path / "copy")
    assert journal.store(stamp(1))
    assert {file.name for file in tmp_path.iterdir()} == {"store.db", "store.db-wal"}
