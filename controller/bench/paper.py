"""A bench record as a PDF to print and sign: A4, in one of the fonts that every reader has.

Courier's letters are all 0.6 of their size wide (Adobe's font metrics, from memory), so lines are
broken by counting. It has the letters of Western European languages (WinAnsiEncoding); of others
the accent is left out, or a question mark put. The HTML page has them all.
"""

from __future__ import annotations

import io
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import pydyf  # type: ignore[import-untyped]  # it has no types

from controller.bench.histogram import Histogram, bars
from controller.bench.judge import ms_text
from controller.bench.record import Record, summary

_WIDTH, _HEIGHT = 595, 842  # points: A4
_LEFT, _TOP, _BOTTOM = 57, 785, 57
_SIZE, _LEADING = 10, 12.5
_COLUMNS = 80
_ROWS = int((_TOP - _BOTTOM) / _LEADING)
_BARS = (37, 30)  # where a histogram's bars begin, and their width, in letters


class Row(NamedTuple):
    """One line of the paper."""

    text: str
    bold: bool = False
    histogram: Histogram | None = None  # drawn over the base of this line and the one above it


def pdf(record: Record) -> bytes:
    """The paper."""
    document = pydyf.PDF()
    fonts = {}
    for name, base in (("F1", "Courier"), ("F2", "Courier-Bold")):
        font = pydyf.Dictionary(
            {
                "Type": "/Font",
                "Subtype": "/Type1",
                "BaseFont": f"/{base}",
                "Encoding": "/WinAnsiEncoding",
            }
        )
        document.add_object(font)
        fonts[name] = font.reference
    pages = list(_pages(list(_rows(record))))
    for number, rows in enumerate(pages, 1):
        stream = pydyf.Stream(compress=True)
        foot = f"{record.heading.began}   page {number} of {len(pages)}"
        _set(stream, rows, _TOP)
        _set(stream, [Row(foot)], _BOTTOM - 2 * _LEADING)
        document.add_object(stream)
        page = {
            "Type": "/Page",
            "Parent": document.pages.reference,
            "MediaBox": pydyf.Array([0, 0, _WIDTH, _HEIGHT]),
            "Resources": pydyf.Dictionary({"Font": pydyf.Dictionary(fonts)}),
            "Contents": stream.reference,
        }
        document.add_page(pydyf.Dictionary(page))
    output = io.BytesIO()
    document.write(output, compress=True)
    return output.getvalue()


def _rows(record: Record) -> Iterator[Row]:
    head = record.heading
    yield Row(f"Bench record: {head.building or head.path}", bold=True)
    yield Row("")
    yield from _wrapped(f"{summary(record)}.", "")
    if record.stopped:
        yield from _wrapped(f"Stopped early: {record.stopped}.", "", bold=True)
    told = [
        ("Begun", head.began),
        ("Ended", record.ended),
        ("By", head.by),
        ("On", head.on),
        ("File", head.path),
        ("Fingerprint", head.installers_fingerprint),
        ("Understudy", head.version),
    ]
    if record.unread:
        told.append(("Moved, unread", ", ".join(record.unread)))
    for name, value in told:
        yield from _wrapped(value, f"{name:<16}")
    for test, results in record.by_test():
        yield Row("")
        yield Row(test, bold=True)
        for result in results:
            mark = f"{result.verdict:<11} {result.what}"
            bold = result.verdict == "fault"
            by = f"by {result.by}" if result.by else ""
            yield Row("  ".join(one for one in (mark, result.title, by) if one)[:_COLUMNS], bold)
            for says in result.says:
                yield from _wrapped(says, " " * 12)
            for of in result.histograms:
                yield from _drawn(of)


def _drawn(of: Histogram) -> Iterator[Row]:
    """Two lines: its name and ends, and room between them for its bars."""
    start, end = ms_text(of.start_ns), ms_text(of.end_ns)
    yield Row("")
    left = f"{'':12}{of.name}"
    yield Row(f"{left:<28}{start:>9}{'':{_BARS[1]}}{end}", histogram=of)


def _wrapped(text: str, mark: str, *, bold: bool = False) -> Iterator[Row]:
    lines = textwrap.wrap(
        text, _COLUMNS, initial_indent=mark, subsequent_indent=" " * len(mark)
    ) or [mark]
    for line in lines:
        yield Row(line, bold)


def _pages(rows: Sequence[Row]) -> Iterator[list[Row]]:
    """Rows page by page, the last one with room to sign."""
    line = "_" * 22
    signing = [Row("")] * 3 + [Row(f"{line}   {line}   {line}")]
    signing += [Row(f"{'Name':<25}{'Date':<25}Signature")]
    every = list(rows)
    while len(every) > _ROWS:
        yield every[:_ROWS]
        every = every[_ROWS:]
    if len(every) + len(signing) > _ROWS:
        yield every
        every = []
    yield every + signing


def _set(stream: pydyf.Stream, rows: Sequence[Row], top: float) -> None:
    """Write rows below each other."""
    stream.begin_text()
    stream.set_text_matrix(1, 0, 0, 1, _LEFT, top)
    for row in rows:
        stream.set_font_size("F2" if row.bold else "F1", _SIZE)
        stream.show_text_string(_encoded(row.text))
        stream.move_text_to(0, -_LEADING)
    stream.end_text()
    for number, row in enumerate(rows):
        if row.histogram is not None:
            _draw(stream, row.histogram, top - number * _LEADING)


def _draw(stream: pydyf.Stream, of: Histogram, base: float) -> None:
    """Its bars, standing on a line."""
    letter = 0.6 * _SIZE
    left, width = _LEFT + (_BARS[0] + 0.5) * letter, (_BARS[1] - 1) * letter
    stream.set_color_rgb(0.35, 0.35, 0.35)
    stream.rectangle(left, base - 0.8, width, 0.5)
    for bar in bars(of):
        tall = bar.height * 1.5 * _LEADING
        stream.rectangle(left + bar.left * width, base, bar.width * width - 0.8, tall)
    stream.fill()
    stream.set_color_rgb(0, 0, 0)


def _encoded(text: str) -> bytes:
    """In the font's letters."""
    plain = text.replace("−", "–").replace("→", ">")
    return b"".join(_letter(letter) for letter in plain)


def _letter(letter: str) -> bytes:
    try:
        return letter.encode("cp1252")
    except UnicodeEncodeError:
        bare = unicodedata.normalize("NFKD", letter)[0]
        return bare.encode("ascii", errors="replace")
