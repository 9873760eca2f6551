"""What other threads ask of the store while it works: answered in between, after any commit."""

from __future__ import annotations

import sqlite3
import threading
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import pytest
from journal_at_work import PATIENT_SECONDS, Journal, held_by
from journal_records import BOOT, DAY, MORNING, note, sounding, stamp

from controller.journal.faults import StoreFault
from controller.journal.mirror import Mirror
from controller.journal.store import Store
from controller.service import journal_thread
from controller.service.journal_thread import JournalThread

LATER = MORNING + DAY


def listed(
    journal: Journal, monkeypatch: pytest.MonkeyPatch, method: str, instead: Any = None
) -> None:
    """List every call of a method of the store among what the thread did."""
    before = getattr(Store, method)

    def listing(store: Store, *given: Any, **named: Any) -> Any:
        journal.done.append(method)
        return (instead or before)(store, *given, **named)

    monkeypatch.setattr(Store, method, listing)


# ── the logbook ──────────────────────────────────────────────────────────────────────────────────


def test_the_logbook_is_read_from_any_thread_with_all_that_is_stored(journal: Journal):
    assert journal.store(stamp(1), sounding(1), note(1, at=MORNING + 1))
    reading = [journal.asking.submit(journal.thread.read_logbook, 0, LATER, 5) for _ in range(8)]
    for read in reading:
        assert [entry.kind for entry in read.result(PATIENT_SECONDS)] == ["sounding", "note"]
    assert [entry.kind for entry in journal.thread.read_logbook(0, LATER, 1)] == ["note"]


def test_commits_go_before_whatever_was_asked_earlier(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
):
    listed(journal, monkeypatch, "logbook")
    journal.halt()
    reading = [journal.asking.submit(journal.thread.read_logbook, 0, LATER, 5) for _ in range(4)]
    journal.waiting(4)
    journal.thread.prune(0)
    for number in (1, 2, 3):
        journal.put(stamp(number))
    journal.go_on()
    for read in reading:
        read.result(PATIENT_SECONDS)
    assert journal.done == ["commit 1", "commit 2", "commit 3", *["logbook"] * 4]


def test_a_commit_waits_for_no_more_than_one_page_of_the_logbook(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
):
    """It comes while the first of several is being read, and is next."""
    logbook = Store.logbook
    committed: list[Future[bool]] = []

    def meanwhile(store: Store, *given: int) -> Any:
        if not committed:
            committed.append(journal.put(stamp(1)))
        return logbook(store, *given)

    listed(journal, monkeypatch, "logbook", meanwhile)
    journal.halt()
    reading = [journal.asking.submit(journal.thread.read_logbook, 0, LATER, 5) for _ in range(4)]
    journal.waiting(4)
    journal.go_on()
    for read in reading:
        read.result(PATIENT_SECONDS)
    assert journal.done == ["logbook", "commit 1", *["logbook"] * 3]


@pytest.mark.parametrize(
    "fault",
    [
        ValueError("a wrong value"),
        sqlite3.ProgrammingError("a wrong statement"),
        AssertionError("never so"),
        MemoryError(),
        RecursionError(),
        TimeoutError(),
        SystemExit(3),
        KeyboardInterrupt(),
        StopIteration(),
    ],
    ids=lambda fault: type(fault).__name__,
)
def test_whatever_goes_wrong_with_what_was_asked_is_told_in_words_and_storing_goes_on(
    journal: Journal, monkeypatch: pytest.MonkeyPatch, fault: BaseException, tmp_path: Path
):
    def failing(*_: Any) -> Any:
        raise fault

    with monkeypatch.context() as patch:
        patch.setattr(Store, "logbook", failing)
        patch.setattr(Store, "draw", failing)
        for asking in (
            lambda: journal.thread.read_logbook(0, LATER, 5),
            lambda: journal.thread.copy_to(tmp_path / "copy"),
        ):
            with pytest.raises(StoreFault, match=rf"store\.db: {type(fault).__name__}.*fault of"):
                asking()
    assert journal.store(stamp(1))
    assert journal.thread.read_logbook(0, LATER, 5) == []
    assert not (tmp_path / "copy").exists()


def test_a_commit_that_fails_as_nobody_foresaw_is_answered_too(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
):
    def failing(*_: Any) -> Any:
        raise AssertionError("never so")

    with monkeypatch.context() as patch:
        patch.setattr(Store, "commit", failing)
        assert not journal.store(stamp(1), note(1))
    assert ["never so" in words for words in journal.said] == [True]
    assert journal.store(stamp(2))
    assert {row.text for row in journal.thread.read_logbook(0, LATER, 5)} == {note(1).text}


@pytest.mark.parametrize(
    "bad",
    [
        note(9, "half a \ud800"),
        note(2**63),
        stamp(9)._replace(boot=None),
        sounding(9, "begun")._replace(by=object()),
        "no record at all",
    ],
    ids=["half a character", "too large", "nothing", "no text", "no record"],
)
def test_a_record_that_no_store_can_hold_bars_neither_its_batch_nor_those_after_it(
    journal: Journal, bad: Any
):
    assert not journal.store(stamp(1), note(1), bad, sounding(1))
    assert ["Not stored" in words for words in journal.said] == [True]
    assert journal.store(stamp(2))
    kinds = [entry.kind for entry in journal.thread.read_logbook(0, LATER, 5)]
    assert kinds == ["note", "sounding"]


def test_what_a_full_disk_refused_is_not_lost_by_a_bad_record_after_it(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
):
    def full(*_: Any) -> Any:
        raise StoreFault("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(Store, "commit", full)
        assert not journal.store(stamp(1), note(1))
    assert not journal.store(stamp(2), note(2**63))
    assert journal.store(stamp(3), note(3))
    texts = [entry.kind for entry in journal.thread.read_logbook(0, LATER, 5)]
    assert texts == ["note", "note"]


def test_an_answer_that_does_not_come_is_told_in_words_and_what_was_asked_is_not_done_later(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
):
    listed(journal, monkeypatch, "logbook")
    journal.halt()
    with monkeypatch.context() as patch:
        patch.setattr(journal_thread, "ANSWER_SECONDS", 0.01)
        with pytest.raises(StoreFault, match=r"store\.db: the store did not answer within 0\.01 s"):
            journal.thread.read_logbook(0, LATER, 5)
    journal.go_on()
    assert journal.store(stamp(1))
    assert journal.thread.read_logbook(0, LATER, 5) == []
    assert journal.done == ["commit 1", "logbook"]


def test_ten_seconds_are_given_for_an_answer():
    assert journal_thread.ANSWER_SECONDS == 10


def test_no_more_is_asked_at_once_than_the_bound(journal: Journal):
    journal.halt()
    bound = journal_thread.MOST_ASKED
    reading = [
        journal.asking.submit(journal.thread.read_logbook, 0, LATER, 5) for _ in range(bound)
    ]
    journal.waiting(bound)
    with pytest.raises(StoreFault, match="too much is asked of the store at once"):
        journal.thread.read_logbook(0, LATER, 5)
    journal.go_on()
    for read in reading:
        read.result(PATIENT_SECONDS)
    for _ in range(2 * bound):  # and there is room again
        assert journal.thread.read_logbook(0, LATER, 5) == []


def test_what_waits_at_the_end_is_refused_after_all_commits_are_stored(tmp_path: Path):
    journal = Journal(tmp_path / "store.db")
    journal.halt()
    reading = [journal.asking.submit(journal.thread.read_logbook, 0, LATER, 5) for _ in range(3)]
    journal.waiting(3)
    stored = journal.put(stamp(1))
    closing = threading.Thread(target=journal.thread.close, args=[PATIENT_SECONDS])
    closing.start()
    journal.waiting(5)
    journal.go_on()
    assert stored.result(PATIENT_SECONDS)
    for read in reading:
        with pytest.raises(StoreFault, match="the store is closed"):
            read.result(PATIENT_SECONDS)
    with pytest.raises(StoreFault, match="the store is closed"):
        journal.thread.read_logbook(0, LATER, 5)
    with pytest.raises(StoreFault, match="the store is closed"):
        journal.thread.copy_to(tmp_path / "copy")
    closing.join(PATIENT_SECONDS)
    journal.asking.shutdown()
    assert held_by(tmp_path / "store.db") == {stamp(1)}


def test_nothing_can_be_asked_of_a_store_that_could_not_be_opened(tmp_path: Path):
    db = sqlite3.connect(tmp_path / "recipes")
    db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()
    mirror = Mirror(tmp_path / "unstored.json", BOOT)
    thread = JournalThread(tmp_path / "recipes", mirror, lambda *_: None, lambda _: None)
    assert thread.load() == []
    for asking in (
        lambda: thread.read_logbook(0, LATER, 5),
        lambda: thread.copy_to(tmp_path / "copy"),
    ):
        with pytest.raises(StoreFault, match="not a store of this program"):
            asking()
    thread.close(PATIENT_SECONDS)
    assert not (tmp_path / "copy").exists()


def test_a_store_whose_rows_make_no_sense_is_set_aside_and_a_new_one_begun(tmp_path: Path):
    store = Store(tmp_path / "store.db")
    store.commit([sounding(1)])
    store.close()
    db = sqlite3.connect(store.path, isolation_level=None)
    db.execute("UPDATE soundings SET edges = '{'")
    db.close()
    journal = Journal(store.path)
    assert journal.thread.load() == []
    assert ["set aside as" in words for words in journal.said] == [True]
    assert journal.store(stamp(1))
    journal.end()
    assert store.path.with_name("store.db.damaged").exists()


# ── pruning ──────────────────────────────────────────────────────────────────────────────────────


def test_commits_go_between_the_parts_of_a_long_pruning(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
):
    old = [sounding(play, at=MORNING - 500 * DAY) for play in range(1, 1201)]
    journal.store(stamp(0), *old)
    prune = Store.prune
    committed: list[Future[bool]] = []
    finished = threading.Event()

    def meanwhile(store: Store, before_utc: int) -> int:
        committed.append(journal.put(stamp(len(committed))))
        gone = prune(store, before_utc)
        if not gone:
            finished.set()
        return gone

    listed(journal, monkeypatch, "prune", meanwhile)
    journal.thread.prune(MORNING - 400 * DAY)
    assert finished.wait(PATIENT_SECONDS)
    assert committed[-1].result(PATIENT_SECONDS)
    assert journal.thread.read_logbook(0, LATER, 5) == []
    assert journal.done == ["commit 1"] + [
        part for number in (2, 3, 4, 5) for part in ("prune", f"commit {number}")
    ]
