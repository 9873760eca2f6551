"""The logbook's page: the newest first, filtered, paged, and as a table for other programs."""

from __future__ import annotations

import csv
from datetime import datetime, timedelta

import pytest

from controller.building.civil import SECOND
from controller.engine.records import MissRow, NoteRow
from controller.page import logbook_pages

NOON = datetime(2026, 11, 25, 12)
TWO_DAYS = "/logbook?since=2026-11-24&until=2026-11-25"


@pytest.fixture
def noted(daemon):
    """Puts notes into the store, one each minute back from noon of 25 November."""

    def put(count: int, text: str = "note {}", before: timedelta = timedelta(0)) -> None:
        noon = daemon.building.civil.instant(NOON - before)
        rows = [
            NoteRow(
                number + int(before.total_seconds()),
                noon - number * 60 * SECOND,
                "Ada",
                text.format(number),
            )
            for number in range(count)
        ]
        daemon.keep(rows)

    return put


def test_entries_stand_newest_first_by_day(keeper, noted):
    noted(2)
    noted(1, "the day before", timedelta(days=1))
    words = keeper.opens(TWO_DAYS).words
    places = [
        words.index(one)
        for one in (
            "Wed 25 Nov 2026",
            "12:00:00 done note 0 (Ada)",
            "11:59:00 done note 1 (Ada)",
            "Tue 24 Nov 2026",
            "the day before",
        )
    ]
    assert places == sorted(places)


def test_a_missed_ring_says_why(keeper, daemon):
    due = daemon.building.civil.instant(NOON)
    daemon.keep([MissRow("north", "2026-11-25T12:00:00", due, "late")])
    assert (
        "missed north missed, due 2026-11-25 12:00:00"
        in keeper.opens(f"{TWO_DAYS}&kind=missed").words
    )
    assert "No such entry" in keeper.opens(f"{TWO_DAYS}&kind=rang").words


def test_words_filter_and_stay_in_the_form(keeper, noted):
    noted(12)
    page = keeper.opens(f"{TWO_DAYS}&text=note+11")
    assert "note 11" in page.words
    assert "note 10" not in page.words
    assert ("text", "note 11") in page.form("/logbook").fields


def test_a_long_logbook_is_read_page_by_page_with_nothing_lost(keeper, noted, monkeypatch):
    monkeypatch.setattr(logbook_pages, "MOST_SHOWN", 7)
    noted(20)
    found, address = [], TWO_DAYS
    for _ in range(3):
        html = keeper.client.get(address).text
        found += [part.split(" (")[0] for part in html.split("<td>note ")[1:]]
        if 'href="/logbook?' not in html:
            break
        address = html.split('href="/logbook?')[1].split('"')[0].replace("&amp;", "&")
        address = f"/logbook?{address}"
    assert found == [str(number) for number in range(20)]


def test_the_table_has_the_same_entries_oldest_first(keeper, noted):
    noted(3)
    answer = keeper.client.get("/logbook.csv?since=2026-11-24&until=2026-11-25")
    assert answer.headers["content-type"].startswith("text/csv")
    assert "attachment" in answer.headers["content-disposition"]
    rows = list(csv.DictReader(answer.text.splitlines()))
    assert [row["text"] for row in rows] == ["note 2", "note 1", "note 0"]
    assert rows[0]["at"] == "2026-11-25T11:58:00+00:00"


def test_a_date_that_makes_no_sense_is_told_at_its_field(keeper):
    answer = keeper.client.get("/logbook?since=yesterday")
    assert answer.status_code == 422
    assert 'id="since-wrong"' in answer.text
    assert keeper.client.get("/logbook.csv?since=yesterday").status_code == 422


def test_without_a_daemon_it_says_why_there_is_none(keeper, daemon):
    daemon.close()
    assert "The logbook cannot be read now" in keeper.opens("/logbook", status=503).words
