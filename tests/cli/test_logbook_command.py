"""`understudy logbook`: from the daemon page by page, or from the store that it left."""

from __future__ import annotations

import csv
import io

import pytest
from desks import SECOND, small_picture
from freezegun import freeze_time
from houses import SMALL
from stores import DUE, MISSED, NOW, RUNG, leave, note

from controller.journal.logbook import LogbookEntry
from controller.service.desk import entry_plain
from controller.service.last_state import keep_last_state
from controller.service.order_server import Reply
from controller.service.orders import MOST_LOGBOOK_ENTRIES

SOUNDED = LogbookEntry(
    DUE, "sounding", "north", RUNG.rings, "First class", "done", 5 * SECOND, "", 1
)
BY_HAND = LogbookEntry(
    DUE + 60 * SECOND, "sounding", "south", (), "", "cut", 1_500_000_000, "ann", 0
)
LATE = LogbookEntry(MISSED.due, "missed", "south", (MISSED.written,), "supply", "", 0, "", 1)
AFTER_ALL = LATE._replace(how="withdrawn", text="late")
MANY = LogbookEntry(NOW.utc - SECOND, "missed-count", "", (), "off", "", 0, "", 1200)
NOTED = LogbookEntry(NOW.utc, "note", "", (), "main: hold", "", 0, "keeper", 0)


@pytest.fixture
def keeps(daemon):
    """Has the daemon keep these entries, as its journal would give them."""

    def kept(*entries: LogbookEntry, most: int = MOST_LOGBOOK_ENTRIES):
        def answer(said):
            before = said.get("before", 1 << 62)
            found = [entry for entry in entries if entry.utc < before][-most:]
            return Reply(True, "", {"entries": [entry_plain(entry) for entry in found]})

        daemon.desk.replies["logbook"] = answer
        return daemon.desk

    return kept


def test_each_kind_of_entry_is_told_in_words_oldest_first_by_local_time(understudy, keeps):
    keeps(SOUNDED, BY_HAND, LATE, AFTER_ALL, MANY, NOTED)
    said = understudy("logbook")
    assert said.code == 0
    assert said.out.splitlines() == [
        "Wed 2026-11-25 08:30:00  north  rang, 5 s  First class",
        "Wed 2026-11-25 08:31:00  south  sounded, cut short, 1.5 s (ann)",
        "Wed 2026-11-25 09:00:00  south  missed, due 2026-11-25 09:00:00: the supply had",
        "                         no current to spare within grace",
        "Wed 2026-11-25 09:00:00  south  missed, due 2026-11-25 09:00:00: nobody could",
        "                         ring it in time, and given after all",
        "Wed 2026-11-25 10:30:09  missed  1200 rings: the controller was off",
        "Wed 2026-11-25 10:30:10  main: hold (keeper)",
    ]


def test_it_reads_on_into_the_past_until_there_is_no_more(understudy, keeps):
    entries = [
        NOTED._replace(utc=DUE + number * SECOND, text=f"no {number}") for number in range(7)
    ]
    desk = keeps(*entries, most=3)
    said = understudy("logbook", "--since", "2026-11-25")
    assert [line.split("no ")[1][0] for line in said.out.splitlines()] == list("0123456")
    assert [words.get("before") for words in desk.heard] == [
        None,
        DUE + 4 * SECOND,
        DUE + SECOND,
        DUE,
    ]
    assert {words["since"] for words in desk.heard} == {"2026-11-25"}


def test_a_daemon_that_gives_the_same_page_again_is_not_asked_for_ever(understudy, daemon):
    same = Reply(True, "", {"entries": [entry_plain(NOTED)]})
    daemon.desk.replies["logbook"] = lambda said: same
    assert len(understudy("logbook").out.splitlines()) == 1


def test_as_csv_it_is_a_table_with_iso_times_that_other_programs_read(understudy, keeps):
    keeps(SOUNDED, NOTED._replace(utc=NOW.utc + SECOND // 2, text='says "quiet", and\nmore'))
    header, rang, noted = csv.reader(io.StringIO(understudy("logbook", "--csv").out))
    assert header == ["at", "kind", "zone", "written", "text", "how", "seconds", "by", "rings"]
    assert rang == [
        "2026-11-25T08:30:00-04:00",
        "sounding",
        "north",
        "2026-11-25T08:30:00",
        "First class",
        "done",
        "5.0",
        "",
        "1",
    ]
    assert noted[0] == "2026-11-25T10:30:10.500-04:00"
    assert noted[4] == 'says "quiet", and\nmore'


def test_where_there_is_nothing_it_says_so(understudy, keeps):
    keeps()
    assert understudy("logbook").out == "The logbook has no entry of that time.\n"


def test_a_since_that_the_daemon_does_not_understand_is_refused(understudy, daemon):
    daemon.desk.replies["logbook"] = lambda said: Reply(False, "'soon' is no local date or time.")
    said = understudy("logbook", "--since", "soon")
    assert said.code == 1
    assert "'soon' is no local date" in said.err


# ── no daemon ────────────────────────────────────────────────────────────────────────────────────


def test_without_a_daemon_it_is_read_from_the_store_and_says_so(
    understudy, runtime, state_folder, small
):
    leave(state_folder, small, *(note(number, f"no {number}") for number in range(1, 1200)))
    keep_last_state(state_folder, small_picture(SMALL))
    said = understudy("logbook", "--since", "2026-11-25")
    assert said.code == 0
    assert "Read from the store itself." in said.err
    lines = said.out.splitlines()
    assert lines[0] == "Wed 2026-11-25 08:30:00  north  rang, 5 s  First class"
    assert lines[3].endswith("no 1 (keeper)")
    assert lines[-1].endswith("no 1199 (keeper)")
    assert len(lines) == 3 + 1199  # the miss takes two lines


def test_without_a_daemon_and_unless_said_it_is_the_last_day(
    understudy, runtime, state_folder, small
):
    leave(state_folder, small, note(1, "today"))
    with freeze_time("2026-11-26T14:00:00Z"):
        said = understudy("logbook")
    assert "today" in said.out
    assert "First class" not in said.out


@pytest.mark.parametrize("words", [(), ("--since", "soon")])
def test_without_daemon_and_store_it_says_so_in_words(understudy, runtime, state_folder, words):
    said = understudy("logbook", *words)
    assert said.code == 1
    assert "there is no store" in said.err
    assert not list(state_folder.iterdir())
