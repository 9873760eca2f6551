"""The timetable's pages: picture and table, of what a daemon runs, else of the files."""

from __future__ import annotations

from datetime import UTC, date, datetime
from xml.etree import ElementTree as ET

import pytest


def test_a_week_is_drawn_and_told_in_a_table(keeper):
    html = keeper.client.get("/timetable?week=2029-W52").text
    drawing = ET.fromstring(html[html.index("<svg") : html.index("</svg>") + 6])
    assert "Week 52 of 2029" in drawing[0].text
    words = keeper.opens("/timetable?week=2029-W52").words
    assert "Tue 25 Dec: daily" in words
    assert "08:30 north, south 5 s First class" in words
    assert "Week before" in words
    assert "This week" in words


def test_a_date_without_rings_says_why(keeper):
    words = keeper.opens("/timetable?week=2030-W01").words
    assert "Tue 1 Jan: none New year Nothing rings." in words


def test_what_is_kept_quiet_says_by_which_row(keeper, daemon):
    daemon.path.write_text(daemon.path.read_text().replace('["sun night"]', '["sun"]'))
    daemon.reload()
    words = keeper.opens("/timetable?week=2029-W52").words
    assert "08:30 south kept quiet: sun day First class" in words


def test_a_date_that_follows_a_plan_by_order_is_drawn_so(keeper, daemon):
    daemon.follows(date(2029, 12, 25), "short")
    words = keeper.opens("/timetable?week=2029-W52").words
    assert "Tue 25 Dec: short by order" in words


def test_weeks_are_walked_through(keeper):
    page = keeper.client.get("/timetable?week=2026-W53").text
    assert 'href="?week=2026-W52"' in page
    assert 'href="?week=2027-W01"' in page


@pytest.mark.parametrize("week", ["2026-W54", "2026-W00", "now", "0001-W01", "9999-W01", "2026-W5"])
def test_a_week_that_is_none_is_said_to_be_none(keeper, week):
    said = keeper.opens(f"/timetable?week={week}", status=404)
    assert "expected a week such as 2026-W48" in said.words


def test_a_year_is_drawn_and_what_departs_is_told_in_a_table(keeper):
    html = keeper.client.get("/timetable/year?year=2030").text
    assert "<svg" in html
    words = keeper.opens("/timetable/year?year=2030").words
    assert "Tue 1 Jan 1 none New year" in words
    assert "D daily 364" in words


def test_a_school_year_begins_with_its_month(keeper):
    words = keeper.opens("/timetable/year?year=2029-09").words
    assert "September 2029 to August 2030" in words
    keeper.opens("/timetable/year?year=2029-13", status=404)


def test_without_a_daemon_it_comes_from_the_files_and_says_so(keeper, daemon):
    daemon.close()
    words = keeper.opens("/timetable?week=2029-W52").words
    assert "08:30 north, south 5 s First class" in words
    assert "From the files" in words
    assert "From the files" in keeper.opens("/timetable/year").words


def test_the_week_now_is_the_one_of_today(keeper):
    year, week, _ = datetime.now(UTC).isocalendar()  # Elm House is at UTC
    assert f"Week {week} of {year}" in keeper.opens("/timetable").words


def test_what_a_keeper_wrote_is_text_and_never_part_of_the_page(keeper, daemon):
    text = daemon.path.read_text().replace(
        '"First class"', '"</svg><script>alert(1)</script>&amp;"'
    )
    daemon.path.write_text(text.replace('"Elm House"', '"<b>Elm</b>"'))
    daemon.reload()
    for address in ("/timetable?week=2029-W52", "/timetable/year", "/edit/plan/daily"):
        html = keeper.client.get(address).text
        assert "<script>alert" not in html
        assert "<b>Elm" not in html
    assert "</svg><script>alert(1)</script>&amp;" in keeper.opens("/edit/plan/daily").words
