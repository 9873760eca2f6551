"""The record of a bench run: JSON, the page, the paper."""

from __future__ import annotations

import json
import re
import zlib
from html.parser import HTMLParser

from controller.bench.page import html
from controller.bench.paper import pdf
from controller.bench.record import Heading, Record, summary, to_json, with_result, write_whole
from controller.bench.steps import Result

HEADING = Heading(
    'Elm "House" <b>',
    "config/elm",
    "ab" * 32,
    "Ida",
    "2026-11-28T12:00:00-04:00",
    "the fake board",
    "0.1.0",
)
WELL = Result("relays", "zones.north", "Škola & Ødeby", "well", "sense", ("Closed.",), (("n", 3),))
FAULT = Result("relays", "lines.main+", "", "fault", "sense", ("lines.main+ is stuck: −",))
RECORD = Record(HEADING, (WELL, FAULT), ("main",), "2026-11-28T12:05:00-04:00", "")


def test_a_later_result_takes_the_place_of_the_earlier_of_the_same_thing():
    again = WELL._replace(verdict="fault")
    assert with_result(RECORD, again).results == (FAULT, again)
    other_test = WELL._replace(test="times")
    assert with_result(RECORD, other_test).results == (WELL, FAULT, other_test)


def test_a_summary_counts_verdicts():
    assert summary(RECORD) == "1 well, 1 fault"
    assert summary(RECORD._replace(results=(FAULT, FAULT))) == "2 faults"
    assert summary(RECORD._replace(results=())) == "nothing was tried"


def test_json_has_it_all():
    plain = json.loads(to_json(RECORD))
    assert plain["installers_fingerprint"] == "ab" * 32
    assert plain["unread_lines"] == ["main"]
    assert plain["results"][0]["figures"] == {"n": 3}
    assert [one["verdict"] for one in plain["results"]] == ["well", "fault"]


class _Read(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.text = [], ""

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)

    def handle_data(self, data):
        self.text += data


def test_the_page_shows_names_as_text_and_has_room_to_sign():
    page = _Read()
    page.feed(html(RECORD))
    assert 'Elm "House" <b>' in page.text
    assert "b" not in page.tags
    assert "Škola & Ødeby" in page.text
    assert "Signature" in page.text
    assert "lines.main+ is stuck" in page.text
    assert {"script", "link", "img"}.isdisjoint(page.tags)


def texts(paper: bytes) -> list[str]:
    """What a PDF's pages show, page by page: the strings before each Tj (ISO 32000-1, 9.4.3)."""
    streams = re.findall(rb"stream\n(.*?)\nendstream", paper, re.DOTALL)
    pages = [page for page in map(zlib.decompress, streams) if b"Tj" in page]
    shown = re.compile(rb"\(((?:\\.|[^\\)])*)\) Tj", re.DOTALL)
    return [
        "\n".join(re.sub(rb"\\(.)", rb"\1", text).decode("cp1252") for text in shown.findall(page))
        for page in pages
    ]


def test_the_paper_says_what_the_page_says():
    (page,) = texts(pdf(RECORD))
    assert 'Bench record: Elm "House" <b>' in page
    assert "Škola & Ødeby" in page
    assert "is stuck: –" in page
    assert "Moved, unread" in page
    assert "Signature" in page
    assert "page 1 of 1" in page


def test_a_letter_that_the_paper_has_not_loses_its_accent():
    (page,) = texts(pdf(RECORD._replace(results=(WELL._replace(title="Łódź (Ōtsu) ⌚\\"),))))
    assert "?ódz (Otsu) ?\\" in page


def test_a_long_record_goes_on_over_pages_and_is_signed_once():
    many = tuple(WELL._replace(what=f"zones.z{n}") for n in range(100))
    pages = texts(pdf(RECORD._replace(results=many)))
    assert len(pages) > 3
    text = "\n".join(pages)
    assert [text.count(f"zones.z{n} ") for n in range(100)] == [1] * 100
    assert text.count("Signature") == 1
    assert all(len(line) <= 80 for line in text.split("\n"))
    assert all(page.count("\n") < 62 for page in pages)


def test_a_record_is_written_whole(tmp_path):
    path = tmp_path / "one.json"
    write_whole(path, b"old")
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"
    assert [one.name for one in tmp_path.iterdir()] == ["one.json"]
