"""A store that is slow, or cannot be opened: whoever waits for it goes on, and nothing is lost."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest
from journal_at_work import PATIENT_SECONDS, Journal, held_by
from journal_records import impulse, sounding, stamp

from controller.journal import faults
from controller.journal.faults import StoreHeld
from controller.journal.schema import STEPS
from controller.journal.shut import read_anyway
from controller.journal.store import Store
from controller.service import backlog


class SlowCard:
    """Every commit waits until it is let through."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.reached = threading.Semaphore(0)
        self.through = threading.Semaphore(0)
        before = Store.commit

        def commit(store: Store, records: list) -> None:
            self.reached.release()
            assert self.through.acquire(timeout=PATIENT_SECONDS)
            before(store, records)

        monkeypatch.setattr(Store, "commit", commit)


@pytest.fixture
def card(monkeypatch: pytest.MonkeyPatch) -> SlowCard:
    monkeypatch.setattr(backlog, "STALL_SECONDS", 0.0)
    return SlowCard(monkeypatch)


def caught_up(journal: Journal) -> None:
    """Wait until all is stored: nothing is mirrored any more."""
    for _ in range(3_000):
        if not journal.mirror.path.exists():
            return
        threading.Event().wait(0.01)
    raise AssertionError("it never caught up")


def told(journal: Journal) -> list[str]:
    """The store's words so far: batch and whether it is stored."""
    return [one.removeprefix("commit ") for one in journal.done if one.startswith("commit")]


def test_a_batch_that_takes_too_long_counts_as_not_stored_and_is_stored_after_all(
    journal: Journal, card: SlowCard
):
    first = journal.put(stamp(1), impulse(1))
    assert card.reached.acquire(timeout=PATIENT_SECONDS)
    journal.thread.look()
    assert first.result(PATIENT_SECONDS) is False
    assert journal.mirror.read() == [stamp(1), impulse(1)]
    second = journal.put(stamp(2), impulse(2))
    assert second.result(PATIENT_SECONDS) is False, "at once: nobody waits for a card that stands"
    assert journal.mirror.read() == [stamp(2), impulse(2)], "the newest of each key"
    assert any("does not answer" in said for said in journal.said)
    for _ in range(3):
        card.through.release()
    caught_up(journal)
    assert journal.put(stamp(3), sounding(3)).result(PATIENT_SECONDS)
    journal.thread.close(PATIENT_SECONDS)
    assert held_by(journal.path) == {stamp(3), impulse(2), sounding(3)}


def test_one_that_answers_in_time_is_not_given_up(journal: Journal):
    assert journal.store(stamp(1))
    journal.thread.look()
    assert journal.store(stamp(2))
    assert told(journal) == ["1", "2"]
    assert not journal.mirror.path.exists()


def test_a_commit_of_two_minutes_is_a_hung_store(
    journal: Journal, card: SlowCard, monkeypatch: pytest.MonkeyPatch
):
    assert not journal.thread.hung()
    journal.put(stamp(1))
    assert card.reached.acquire(timeout=PATIENT_SECONDS)
    assert not journal.thread.hung()
    monkeypatch.setattr(backlog, "HUNG_SECONDS", 0.0)
    assert journal.thread.hung()
    card.through.release()


def test_what_a_restart_finds_in_the_mirror_goes_with_the_first_commit(tmp_path: Path):
    store = Store(tmp_path / "store.db")
    store.commit([stamp(1), impulse(1)])
    store.close()
    before = Journal(tmp_path / "store.db")
    before.mirror.write([stamp(2), impulse(2)])
    before.thread.close(PATIENT_SECONDS)
    after = Journal(tmp_path / "store.db")
    newest = {record.key: record for record in after.thread.load()}
    assert set(newest.values()) == {stamp(2), impulse(2)}
    assert after.store(stamp(3))
    caught_up(after)
    after.thread.close(PATIENT_SECONDS)
    assert held_by(tmp_path / "store.db") == {stamp(3), impulse(2)}


# ── a store that cannot be opened ────────────────────────────────────────────────────────────────


def unwritable(monkeypatch: pytest.MonkeyPatch, path: Path) -> None:
    """Opening the store fails as on a disk that is mounted read-only."""
    before = Store.__init__

    def opened(store: Store, its: Path, *more: object) -> None:
        if its == path:
            raise faults.StoreFault(f"{its}: could not open the store: it may only be read")
        before(store, its, *more)

    monkeypatch.setattr(Store, "__init__", opened)


def test_one_that_may_only_be_read_is_read_and_storing_goes_on_when_it_can(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    path = tmp_path / "store.db"
    store = Store(path)
    store.commit([stamp(1), impulse(1)])
    store.close()
    with monkeypatch.context() as patched:
        unwritable(patched, path)
        journal = Journal(path)
        assert set(journal.thread.load()) == {stamp(1), impulse(1)}
        assert not journal.store(stamp(2), impulse(2))
        assert set(journal.mirror.read()) == {stamp(2), impulse(2)}
    monkeypatch.setattr(journal.thread, "_open_at", 0.0)
    assert journal.store(stamp(3))
    journal.thread.close(PATIENT_SECONDS)
    assert held_by(path) == {stamp(3), impulse(2)}
    assert not list(tmp_path.glob("read-only-copy*"))


def test_what_only_the_log_holds_is_read_too(tmp_path: Path):
    store = Store(tmp_path / "store.db")
    store.commit([stamp(1), impulse(1)])
    (tmp_path / "run").mkdir()
    assert set(read_anyway(tmp_path / "store.db", tmp_path / "run")) == {stamp(1), impulse(1)}
    assert list((tmp_path / "run").iterdir()) == []
    store.close()


def test_a_newer_one_is_left_as_it_is_and_nothing_is_stored(tmp_path: Path):
    newer = (*STEPS, ("CREATE TABLE more (one INTEGER)",))
    store = Store(tmp_path / "store.db", newer)
    store.close()
    bytes_before = (tmp_path / "store.db").read_bytes()
    journal = Journal(tmp_path / "store.db")
    assert journal.thread.load() == []
    assert not journal.store(stamp(1))
    journal.thread.close(PATIENT_SECONDS)
    assert (tmp_path / "store.db").read_bytes() == bytes_before
    assert any("the dials have to be read" in said for said in journal.said)


def test_one_that_another_daemon_holds_is_refused(tmp_path: Path, monkeypatch):
    monkeypatch.setattr("controller.journal.store.BUSY_SECONDS", 0.05)
    held = Store(tmp_path / "store.db")
    journal = Journal(tmp_path / "store.db")
    with pytest.raises(StoreHeld):
        journal.thread.load()
    held.close()
    assert os.path.getsize(tmp_path / "store.db") > 0
