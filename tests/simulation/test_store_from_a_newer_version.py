"""The store was written by a newer version: it is left as it is, and nothing is stored."""

from __future__ import annotations

import sqlite3

import pytest
from simulator.story import Story, ring

from controller.engine.records import Stamp
from controller.journal.faults import StoreNewer
from controller.journal.store import Store


def test_bells_go_on_dials_stand_and_catch_up_once_the_program_is_put_back():
    story = Story(ring("08:40"), ring("09:30"))
    story.until("08:30:30").happens("store newer", seconds=1800)
    story.until("08:59")
    assert story.sounded() == [("08:40:00", 5.0)]
    assert not story.row().read, "what the store says of the dials cannot be read"
    assert story.impulses(since="08:31") == []
    assert story.faults == ["store"]
    story.until("09:31:30")
    assert story.shows() == ["09:31"]
    assert story.sounded() == [("08:40:00", 5.0), ("09:30:00", 5.0)]
    assert story.missed() == []
    story.ends_well()


def test_the_controllers_own_store_refuses_and_keeps_what_is_in_it(tmp_path):
    path = tmp_path / "store.sqlite"
    store = Store(path)
    store.commit([Stamp(1, 1, "boot", True, 1, 1, 1)])
    store.close()
    with sqlite3.connect(path) as db:
        (version,) = db.execute("PRAGMA user_version").fetchone()
        db.execute(f"PRAGMA user_version = {version + 1}")
    db.close()
    before = path.read_bytes()
    with pytest.raises(StoreNewer):
        Store(path)
    assert path.read_bytes() == before
