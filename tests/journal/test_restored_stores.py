"""A store made from a copy, for a machine whose card died: identities stand, dials are unread."""

from __future__ import annotations

import signal
import sqlite3
from itertools import chain
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from journal_at_work import KEPT, held_by, kept_store
from journal_child import child, holder
from journal_records import (
    BATCHES,
    BOOT,
    DAY,
    MINUTE,
    MORNING,
    impulse,
    note,
    sounding,
    stamp,
    standing,
)

from controller.building.file import read
from controller.engine.contract import Now
from controller.engine.records import LineRow, NoteRow, Record, Stamp, TrustRow
from controller.engine.recover import recover
from controller.journal import keeping, store
from controller.journal.faults import StoreFault
from controller.journal.keeping import Restored, restore, utc_words
from controller.journal.store import Store

VERSION_1 = Path(__file__).with_name("version_1.sql")
LATER = MORNING + 3 * DAY


def test_a_restored_store_knows_what_was_rung_and_not_what_the_dials_show(copy: Path, place: Path):
    assert restore(copy, place, LATER) == Restored(stamp(5).utc, None, ("main", "tower"))
    unread = LineRow("main", False, 0, 720, "-", False, False, None, impulse(4).last_utc, False, -1)
    assert held_by(place) == {
        *KEPT,
        stamp(5)._replace(boot="restored"),
        unread,
        unread._replace(line="tower", held=True, last_utc=impulse(3).last_utc),
        TrustRow("", MORNING, ""),
        NoteRow(
            7, LATER, "",
            "restored from a backup of 2026-11-25 12:35 UTC; all lines are unread",
        ),
    }  # fmt: skip
    assert [file.name for file in place.parent.iterdir()] == ["store.db"]


def test_a_start_with_a_restored_store_is_the_fence_even_in_the_same_run_of_the_machine(
    copy: Path, place: Path, tmp_path: Path
):
    file = tmp_path / "building.toml"
    file.write_text('[building]\ntimezone = "America/Halifax"\n[zones.north]\nrelay = 17\n')
    restore(copy, place, LATER)
    state = recover(read(file), held_by(place), Now(LATER, 9 * MINUTE, BOOT, True))
    assert state.fence_at_start
    assert state.settled == stamp(5).settled
    assert ("north", "2026-11-25T08:30:00") in state.given["2026-11-25"]
    assert "south: cut as it began or while it sounded" in {
        row.text for row in state.owed if isinstance(row, NoteRow)
    }


@settings(max_examples=25, deadline=None)
@given(BATCHES)
def test_whatever_was_stored_a_backup_restored_keeps_identities_and_makes_every_line_unread(
    tmp_path_factory: pytest.TempPathFactory, batches: list[list[Record]]
):
    folder = tmp_path_factory.mktemp("restored")
    before = standing(chain.from_iterable(batches))
    last = max((row.number for row in before if isinstance(row, NoteRow)), default=0)
    assume(last < 2**63 - 1)
    died = Store(folder / "died.db")
    for batch in batches:
        died.commit(batch)
    entries = died.logbook(-(2**63), 2**63 - 1)
    died.copy_to(folder / "copy")
    died.close()
    restore(folder / "copy", folder / "store.db", LATER)
    restored = Store(folder / "store.db")
    after = set(restored.load())
    anew = restored.logbook(-(2**63), 2**63 - 1)
    restored.close()
    changed = (Stamp, LineRow, TrustRow, NoteRow)
    assert {row for row in after if not isinstance(row, changed)} == {
        row for row in before if not isinstance(row, changed)
    }
    stamps, lines, words = (
        {row for row in before if isinstance(row, kind)} for kind in (Stamp, LineRow, TrustRow)
    )
    assert {row for row in after if isinstance(row, Stamp)} == {
        row._replace(boot="restored") for row in stamps
    }
    assert {row for row in after if isinstance(row, LineRow)} == {
        LineRow(
            row.line, False, 0, row.positions, "-", False, row.held, None, row.last_utc, False, -1
        )
        for row in lines
    }
    assert {row for row in after if isinstance(row, TrustRow)} == {
        TrustRow("", row.utc, "") for row in words
    }
    notes = [row for row in after if isinstance(row, NoteRow)]
    assert [row.number for row in notes] == [last + 1]
    assert len(anew) == len(entries) + 1
    assert set(entries) < set(anew)


def test_the_note_stands_after_everything_that_the_backup_holds_even_where_the_clock_is_behind(
    copy: Path, place: Path
):
    restore(copy, place, MORNING - 900 * DAY)
    restored = Store(place)
    assert restored.logbook(0, 2**62)[-1].text.startswith("restored from a backup of")
    restored.close()


def test_the_note_is_in_the_words_for_time_that_it_is_given(copy: Path, place: Path):
    restore(copy, place, LATER, lambda utc: f"minute {(utc - MORNING) // MINUTE}")
    notes = [row.text for row in held_by(place) if isinstance(row, NoteRow)]
    assert notes == ["restored from a backup of minute 5; all lines are unread"]


def test_a_backup_of_a_store_that_never_stored_anything_says_that_its_time_is_unknown(
    tmp_path: Path, place: Path
):
    empty = kept_store(tmp_path / "empty.db")
    assert restore(empty, place, LATER) == Restored(None, None, ())
    assert held_by(place) == {
        NoteRow(1, LATER, "", "restored from a backup of an unknown time; all lines are unread")
    }


def test_a_backup_of_the_first_version_is_brought_up_to_date(tmp_path: Path, place: Path):
    old = tmp_path / "old"
    db = sqlite3.connect(old, isolation_level=None)
    db.executescript(VERSION_1.read_text(encoding="utf-8"))
    db.close()
    before = old.read_bytes()
    restored = restore(old, place, LATER)
    assert restored.lines == ("hall", "main", "yard")
    rows = held_by(place)
    assert not any(row.read or row.step for row in rows if isinstance(row, LineRow))
    assert {sounding(7), sounding(8, "begun", at=MORNING + 5 * MINUTE, zone="south")} < rows
    assert old.read_bytes() == before
    assert [file.name for file in place.parent.iterdir()] == ["store.db"]


def test_a_store_taken_from_a_dead_machine_is_restored_with_what_is_only_in_its_log(
    tmp_path: Path, place: Path
):
    taken = kept_store(tmp_path / "taken.db", stamp(1), note(1))
    dying = holder(taken)
    dying.send_signal(signal.SIGKILL)
    dying.wait()
    log = taken.with_name("taken.db-wal")
    before = taken.read_bytes(), log.read_bytes()
    assert restore(taken, place, LATER).stamped_utc == stamp(77).utc
    assert (taken.read_bytes(), log.read_bytes()) == before
    assert stamp(77)._replace(boot="restored") in held_by(place)


# ── the store that is there ──────────────────────────────────────────────────────────────────────


def test_the_store_that_is_there_is_set_aside_whole_and_never_overwritten(copy: Path, place: Path):
    for number in (1, 2):
        kept_store(place, stamp(number), note(number, "of before"))
        before = held_by(place)
        replaced = restore(copy, place, LATER).replaced
        assert replaced == place.with_name(f"store.db.replaced{'' if number == 1 else '-2'}")
        assert held_by(replaced) == before
        place.unlink()


def test_a_store_that_ended_uncleanly_is_set_aside_with_its_log(copy: Path, place: Path):
    dying = holder(place)
    dying.send_signal(signal.SIGKILL)
    dying.wait()
    replaced = restore(copy, place, LATER).replaced
    assert replaced is not None
    assert {file.name for file in place.parent.iterdir()} == {
        "store.db", "store.db.replaced", "store.db.replaced-wal",
    }  # fmt: skip
    assert stamp(77) in held_by(replaced)
    assert stamp(5)._replace(boot="restored") in held_by(place)


def test_a_damaged_store_is_set_aside_too(copy: Path, place: Path):
    place.write_bytes(b"\xff" * 4096)
    replaced = restore(copy, place, LATER).replaced
    assert replaced is not None
    assert replaced.read_bytes() == b"\xff" * 4096
    assert sounding(1) in held_by(place)


@pytest.mark.parametrize("ending", ["-wal", "-journal"])
def test_the_log_of_a_store_that_is_gone_is_not_read_into_the_restored_one(
    copy: Path, place: Path, ending: str
):
    dying = holder(place)
    dying.send_signal(signal.SIGKILL)
    dying.wait()
    place.unlink()
    left = place.with_name("store.db-wal").rename(place.with_name(f"store.db{ending}"))
    log = left.read_bytes()
    assert restore(copy, place, LATER).replaced is None
    assert left.with_name(f"store.db{ending}.replaced").read_bytes() == log
    assert stamp(77) not in held_by(place)
    assert sounding(1) in held_by(place)


def test_a_store_that_a_daemon_has_open_is_refused_and_left_to_it(
    copy: Path, place: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(store, "BUSY_SECONDS", 0)
    daemon = holder(place)
    with pytest.raises(StoreFault, match=r"store\.db: a daemon has it open; end the daemon first"):
        restore(copy, place, LATER)
    assert {file.name for file in place.parent.iterdir()} == {"store.db", "store.db-wal"}
    with pytest.raises(StoreFault, match="another program holds it"):  # it holds it still
        Store(place)
    daemon.communicate("\n")
    assert daemon.returncode == 0
    restore(copy, place, LATER)


OPENER = """
import sys
from pathlib import Path
from controller.journal.faults import StoreFault
from controller.journal import store
from controller.journal.store import Store
store.BUSY_SECONDS = 0
try:
    Store(Path(sys.argv[1]))
except StoreFault as fault:
    print(fault)
"""


def test_no_daemon_can_begin_with_the_store_while_another_takes_its_place(
    copy: Path, place: Path, monkeypatch: pytest.MonkeyPatch
):
    kept_store(place, stamp(1))
    before = held_by(place)
    fetch, said = keeping._fetch, []

    def meanwhile(*paths: Path) -> None:
        said.append(child(OPENER, place).communicate()[0])
        fetch(*paths)

    monkeypatch.setattr(keeping, "_fetch", meanwhile)
    replaced = restore(copy, place, LATER).replaced
    assert "another program holds it" in said[0]
    assert replaced is not None
    assert held_by(replaced) == before


def test_what_a_daemon_began_in_the_last_moment_is_not_overwritten(
    copy: Path, place: Path, monkeypatch: pytest.MonkeyPatch
):
    def too_late(store: Path) -> None:
        kept_store(store, stamp(9))

    monkeypatch.setattr(keeping, "_set_aside", too_late)
    with pytest.raises(StoreFault, match="a daemon has begun a new store meanwhile"):
        restore(copy, place, LATER)
    assert held_by(place) == {stamp(9)}
    assert [file.name for file in place.parent.iterdir()] == ["store.db"]


# Restores again and again until it is killed.
RESTORER = """
import sys
from pathlib import Path
from controller.journal.keeping import restore
copy, store = map(Path, sys.argv[1:])
for number in range(90):
    restore(copy, store, 0)
    print(number, flush=True)
"""


@pytest.mark.parametrize("turns", [1, 2, 3, 7])
def test_a_kill_in_the_midst_of_a_restore_leaves_a_whole_store_and_the_next_one_works(
    copy: Path, place: Path, turns: int
):
    restorer = child(RESTORER, copy, place)
    assert restorer.stdout is not None
    for _ in range(turns):
        assert restorer.stdout.readline()
    restorer.send_signal(signal.SIGKILL)
    restorer.wait()
    stores = [
        file
        for file in place.parent.iterdir()
        if not file.name.startswith(f"{place.name}.restoring")
    ]
    assert len(stores) >= turns
    for whole in stores:
        assert sounding(1) in held_by(whole)
    restore(copy, place, LATER)
    assert sounding(1) in held_by(place)
    assert not list(place.parent.glob("*.restoring*"))


def test_instants_are_said_with_their_offset():
    assert utc_words(MORNING) == "2026-11-25 12:30 UTC"
    assert utc_words(MORNING + MINUTE - 1) == "2026-11-25 12:30 UTC"
