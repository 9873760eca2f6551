"""The logbook: everything in time order, read backwards page by page, and let go in the end."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from journal_records import DAY, MINUTE, MORNING, SECOND, impulse, note, sounding, stamp

from controller.engine.records import FollowRow, MissCount, MissRow, QuietRow, SoundingRow
from controller.journal import logbook
from controller.journal.logbook import KEPT_ANYWAY, LogbookEntry
from controller.journal.store import Store

LATER = MORNING + DAY


def a_morning(store: Store) -> None:
    store.commit(
        [
            stamp(0),
            note(1, "set to 08:30", at=MORNING + 9 * MINUTE),
            sounding(1, at=MORNING + 5 * MINUTE),
            MissRow("south", "2026-11-25T08:30:00", MORNING, "supply"),
            MissCount(12, MORNING - DAY, MORNING - MINUTE, "off"),
        ]
    )


def test_entries_of_all_kinds_stand_in_time_order(store: Store):
    a_morning(store)
    assert store.logbook(0, LATER) == [
        LogbookEntry(MORNING - DAY, "missed-count", "", (), "off", "", 0, "", 12),
        LogbookEntry(MORNING, "missed", "south", ("2026-11-25T08:30:00",), "supply", "", 0, "", 1),
        LogbookEntry(
            MORNING + 5 * MINUTE, "sounding", "north", ("2026-11-25T08:30:00",), "First class",
            "done", 5 * SECOND, "", 1,
        ),
        LogbookEntry(
            MORNING + 9 * MINUTE, "note", "", (), "set to 08:30", "", 0, "restorer", 0
        ),
    ]  # fmt: skip


def test_the_beginning_belongs_to_the_window_and_the_end_does_not(store: Store):
    a_morning(store)
    kinds = [entry.kind for entry in store.logbook(MORNING, MORNING + 9 * MINUTE)]
    assert kinds == ["missed", "sounding"]


def test_a_limit_gives_the_newest_entries(store: Store):
    a_morning(store)
    assert [entry.kind for entry in store.logbook(0, LATER, 2)] == ["sounding", "note"]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 12), max_size=40), st.integers(1, 7))
def test_pages_read_backwards_miss_nothing_and_show_nothing_twice(instants: list[int], limit: int):
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder) / "store.db")
        store.commit([note(number, at=utc) for number, utc in enumerate(instants)])
        pages: list[LogbookEntry] = []
        until = 100
        while page := store.logbook(0, until, limit):
            pages = page + pages
            until = page[0].utc
        store.close()
    assert [entry.utc for entry in pages] == sorted(instants)


def test_a_year_is_read_backwards_in_pages_of_five_hundred(store: Store):
    """Notes and bells, several of them at each instant where two pages part."""
    notes = [note(number, at=MORNING + number // 7 * MINUTE) for number in range(4000)]
    bells = [sounding(play, at=MORNING + play // 5 * MINUTE) for play in range(4000)]
    store.commit([*notes, *bells])
    pages: list[list[LogbookEntry]] = []
    until = MORNING + DAY
    while page := store.logbook(0, until, 500):
        pages.insert(0, page)
        until = page[0].utc
    assert {len(page) for page in pages[1:]} <= set(range(500, 512))
    entries = [entry for page in pages for entry in page]
    assert [entry.utc for entry in entries] == sorted(row.utc for row in entries)
    of_kind = {kind: [e.utc for e in entries if e.kind == kind] for kind in ("note", "sounding")}
    assert of_kind["note"] == [row.utc for row in notes]
    assert of_kind["sounding"] == [row.start_utc for row in bells]


def test_a_page_of_the_logbook_is_read_by_indexes_and_sorts_nothing(store: Store):
    plan = store._db.execute(
        f"EXPLAIN QUERY PLAN {logbook._ENTRIES}", {"since": 0, "until": LATER, "most": 500}
    )
    steps = [row[-1] for row in plan]
    assert sum(step.startswith("SEARCH") for step in steps) == 4
    assert not [step for step in steps if "SCAN" in step or "TEMP B-TREE" in step]


def test_what_is_old_is_let_go_a_few_rows_at_a_time_until_nothing_is_left(store: Store):
    old = [sounding(play, at=MORNING - 500 * DAY + play * MINUTE) for play in range(1, 41)]
    misses = [
        MissRow("north", f"2025-06-01T08:{n:02}:00", MORNING - 500 * DAY, "off") for n in range(40)
    ]
    counts = [MissCount(7, MORNING - 500 * DAY, MORNING - 490 * DAY, "off")]
    notes = [note(number, at=MORNING - 450 * DAY) for number in range(1, 41)]
    store.commit([stamp(0), *old, *misses, *counts, *notes])
    a_morning_after = [sounding(50), note(50)]
    store.commit(a_morning_after)
    gone = []
    while rows := store.prune(MORNING - 400 * DAY, most=25):
        gone.append(rows)
    assert gone == [25, 25, 25, 25, 21]
    assert len(store.logbook(0, LATER)) == len(a_morning_after)
    assert set(store.load()) == {stamp(0), *a_morning_after}


def test_what_still_matters_is_never_let_go(store: Store):
    ancient = MORNING - 3000 * DAY
    kept = [
        stamp(0),
        impulse(0)._replace(last_utc=ancient),
        sounding(1, "begun", at=ancient),
        QuietRow("north", ancient, "keeper"),
        FollowRow("2019-01-01", "none", "keeper"),
        MissCount(3, ancient, MORNING, "off"),  # reaches into what is kept
        note(7, at=ancient),
    ]
    store.commit(kept)
    assert store.prune(MORNING - 400 * DAY) == 0
    assert set(store.load()) == set(kept)


def test_identities_of_the_last_two_days_outlast_any_wish_to_forget(store: Store):
    recent = sounding(1, at=MORNING - KEPT_ANYWAY)
    before = sounding(2, at=MORNING - KEPT_ANYWAY - 1)
    store.commit([stamp(0), recent, before])
    assert store.prune(2**62) == 1
    assert [row for row in store.load() if isinstance(row, SoundingRow)] == [recent]


def test_an_empty_store_has_an_empty_logbook_and_nothing_to_let_go(store: Store):
    assert store.logbook(0, LATER) == []
    assert store.prune(LATER) == 0
