"""The record of a bench run: JSON, the page, the paper."""

from __future__ import annotations

import json
import re
import zlib
from html.parser import HTMLParser

from controller.bench.histogram import bars, histogram
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


MS = 1_000_000
PULL_INS = histogram("pull-in", [6 * MS] * 7 + [None, 8 * MS, 21 * MS])
TIMED = WELL._replace(test="times", histograms=(PULL_INS,))


def test_times_are_counted_into_bins_and_none_is_lost():
    # 6 to 21 ms: of 1, 2, 5, 10 … bins of 1 ms are the narrowest of which 24 suffice
    assert PULL_INS.counts == (7, 0, 1, *[0] * 12, 1)
    assert (PULL_INS.start_ns, PULL_INS.end_ns, PULL_INS.width_ns) == (6 * MS, 22 * MS, MS)


def test_bins_are_few_and_equal_times_are_one_bar():
    assert len(histogram("x", [1, 3_600 * 1_000 * MS]).counts) <= 24
    equal = histogram("x", [6_030_000] * 5)
    assert equal.counts == (0, 0, 0, 0, 5, 0, 0, 0, 0, 0)
    assert (equal.start_ns, equal.end_ns) == (5_600_000, 6_600_000)
    assert [bar.height for bar in bars(equal)] == [1.0]


def test_of_no_time_and_of_no_bounce_nothing_is_drawn():
    assert histogram("x", []) is None
    assert histogram("x", [None]) is None
    assert histogram("x", [0, 0]) is None


def test_a_bar_is_as_tall_as_its_count():
    assert [(round(bar.left * 16), bar.height) for bar in bars(PULL_INS)] == [
        (0, 1.0),
        (2, 1 / 7),
        (15, 1 / 7),
    ]


def test_json_has_it_all():
    plain = json.loads(to_json(RECORD))
    assert plain["installers_fingerprint"] == "ab" * 32
    assert plain["unread_lines"] == ["main"]
    assert plain["results"][0]["figures"] == {"n": 3}
    (timed,) = json.loads(to_json(RECORD._replace(results=(TIMED,))))["results"]
    (drawn,) = timed["histograms"]
    assert drawn.pop("counts")[:3] == [7, 0, 1]
    assert drawn == {"name": "pull-in", "from_ms": 6.0, "bin_ms": 1.0}
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
    assert "svg" not in page.tags
    assert "lines.main+ is stuck" in page.text
    assert {"script", "link", "img"}.isdisjoint(page.tags)


def test_the_page_draws_how_times_spread_and_says_it_in_words():
    page = _Read()
    page.feed(html(RECORD._replace(results=(TIMED,))))
    assert page.tags.count("svg") == 1
    assert page.tags.count("rect") == 3 + 1  # bars, and the line that they stand on
    assert "pull-in of 9 operations, between 6.0 ms and 22.0 ms; in bins of 1.0 ms: 7, 0," in (
        page.text
    )


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


def test_the_paper_draws_how_times_spread():
    paper = pdf(RECORD._replace(results=(TIMED,)))
    (page,) = texts(paper)
    (row,) = (line for line in page.split("\n") if "pull-in" in line)
    assert row.split() == ["pull-in", "6.0", "ms", "22.0", "ms"]
    streams = re.findall(rb"stream\n(.*?)\nendstream", paper, re.DOTALL)
    (drawn,) = (one for one in map(zlib.decompress, streams) if b"Tj" in one)
    assert len(re.findall(rb"\bre\b", drawn)) == 3 + 1  # rectangles: ISO 32000-1, 8.5.2


def test_a_letter_that_the_paper_has_not_loses_its_accent():
    (page,) = texts(pdf(RECORD._replace(results=(WELL._replace(title="Łódź (Ōtsu) ⌚\\"),))))
    assert "?ódz (Otsu) ?\\" in page


def test_a_long_record_goes_on_over_pages_and_is_signed_once():
    many = tuple(TIMED._replace(what=f"zones.z{n}") for n in range(100))
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
