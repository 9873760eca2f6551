"""A schematic being drawn: symbols and wires by schemdraw, words as SVG text.

Words are set here and not by schemdraw, which reads them as markup and mathematics: a person's
`&` or `_` must stay what it is. As `sheet.py` does, the SVG has presentation attributes only, and
no reference to anything, so that any number of drawings may stand in one page.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple
from xml.etree import ElementTree as ET

from controller.pictures.sheet import INK, PALE_INK, PAPER, Anchor, without_unreadable

if TYPE_CHECKING:
    from schemdraw.elements import Element, Element2Term

Point = tuple[float, float]

_UNIT = 36.0  # points of one unit of length: schemdraw's half an inch
_SIZE = 10.0  # points, of words
_LETTER = 0.58  # width of a letter of its size: a little more than sheet.py takes, to be safe
_THICK = 1.1
_EDGE = 8.0  # points around the drawing
_SVG = "{http://www.w3.org/2000/svg}"


class _Words(NamedTuple):
    x: float
    y: float
    words: str
    anchor: Anchor
    size: float
    bold: bool
    ink: str


class Schematic:
    """Coordinates are units of half an inch, x to the right and y up. Things are drawn in order."""

    def __init__(self, title: str, description: str) -> None:
        import schemdraw

        self._title, self._description = title, description
        self._drawing = schemdraw.Drawing(canvas="svg", show=False, lw=_THICK, color=INK)
        self._words: list[_Words] = []

    # ── lines and words ──────────────────────────────────────────────────────────────────────

    def wire(self, *points: Point) -> None:
        """A wire from point to point."""
        self._path(points, "-")

    def link(self, *points: Point) -> None:
        """What is joined by mechanics, or a boundary: dashed."""
        self._path(points, ":")

    def rail(self, start: Point, end: Point) -> None:
        """A row of joined terminals."""
        from schemdraw import elements as e

        self.add(e.Line(lw=2.6).at(start).to(end))

    def box(self, left: float, bottom: float, right: float, top: float, *, dashed: bool) -> None:
        """A part drawn as a box, or what belongs together: dashed."""
        corners = (left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)
        self._path(corners, ":" if dashed else "-")

    def words(
        self,
        x: float,
        y: float,
        words: str,
        anchor: Anchor = "start",
        *,
        size: float = _SIZE,
        bold: bool = False,
        pale: bool = False,
        room: float | None = None,
    ) -> None:
        """One line of words; (x, y) is the middle of its height. Long ones are set smaller where
        they would be wider than `room`, down to half."""
        ink = PALE_INK if pale else INK
        if room is not None:
            wide = len(words) * size * _LETTER / _UNIT
            size = round(size * min(1.0, max(0.5, room / max(wide, room))), 1)
        self._words.append(_Words(x, y, words, anchor, size, bold, ink))

    def mark(self, x: float, y: float, words: str, anchor: Anchor = "middle") -> None:
        """A terminal's mark beside a symbol."""
        self.words(x, y, words, anchor, size=8.0)

    def end(self, x: float, y: float, words: str, anchor: Anchor = "end") -> None:
        """A terminal that stands elsewhere too: a circle, and its whole name.

        `anchor` is that of the words: with "end" they stand to the left of it.
        """
        self.terminal(x, y)
        self.words(x + {"end": -0.22, "start": 0.22, "middle": 0.0}[anchor], y, words, anchor)

    def terminal(self, x: float, y: float) -> None:
        """A terminal's circle."""
        from schemdraw import elements as e

        self.add(e.Dot(open=True, radius=0.09).at((x, y)))

    def dot(self, x: float, y: float) -> None:
        """Where wires are joined."""
        from schemdraw import elements as e

        self.add(e.Dot(radius=0.07).at((x, y)))

    def between(self, element: Element2Term, start: Point, end: Point) -> None:
        """A symbol with two ends, and its leads up to both points."""
        self.add(element.at(start).to(end))

    def add(self, element: Element) -> None:
        """Any symbol."""
        self._drawing.add(element)

    def _path(self, points: tuple[Point, ...], style: str) -> None:
        from schemdraw import elements as e

        for start, end in pairwise(points):
            self.add(e.Line(ls=style, lw=_THICK if style == "-" else 0.8).at(start).to(end))

    # ── the file ─────────────────────────────────────────────────────────────────────────────

    def svg(self) -> str:
        """The whole file, without an XML declaration so that it can stand inside a page."""
        drawn = ET.fromstring(self._drawing.get_imagedata("svg"))
        left, top, width, height = self._extent()
        root = ET.Element(
            "svg",
            {
                "xmlns": _SVG[1:-1],
                "width": f"{width:g}pt",
                "height": f"{height:g}pt",
                "viewBox": f"{left:g} {top:g} {width:g} {height:g}",
                "role": "img",
                "font-family": "sans-serif",
            },
        )
        ET.SubElement(root, "title").text = without_unreadable(self._title)
        ET.SubElement(root, "desc").text = without_unreadable(self._description)
        ground = {"x": f"{left:g}", "y": f"{top:g}", "width": f"{width:g}", "height": f"{height:g}"}
        ET.SubElement(root, "rect", ground | {"fill": PAPER})
        for shape in drawn:
            root.append(_plain(shape))
        for words in self._words:
            root.append(_text(words))
        return ET.tostring(root, encoding="unicode") + "\n"

    def _extent(self) -> tuple[float, float, float, float]:
        """Left, top, width and height in points, words counted in by their probable width."""
        box = self._drawing.get_bbox()
        xs, ys = [box.xmin * _UNIT, box.xmax * _UNIT], [-box.ymin * _UNIT, -box.ymax * _UNIT]
        for one in self._words:
            wide = len(one.words) * one.size * _LETTER
            start = one.x * _UNIT - {"start": 0.0, "middle": wide / 2, "end": wide}[one.anchor]
            xs += [start, start + wide]
            ys += [-one.y * _UNIT - one.size, -one.y * _UNIT + one.size]
        left, top = round(min(xs) - _EDGE), round(min(ys) - _EDGE)
        return left, top, round(max(xs) + _EDGE) - left, round(max(ys) + _EDGE) - top


def _text(one: _Words) -> ET.Element:
    """Words, as text."""
    attributes = {
        "x": f"{one.x * _UNIT:.2f}",
        "y": f"{-one.y * _UNIT + 0.36 * one.size:.2f}",  # half the height of capitals
        "font-size": f"{one.size:g}",
        "text-anchor": one.anchor,
        "fill": one.ink,
    }
    if one.bold:
        attributes["font-weight"] = "bold"
    element = ET.Element("text", attributes)
    element.text = without_unreadable(one.words)
    return element


def _plain(shape: ET.Element) -> ET.Element:
    """A shape with its style as presentation attributes."""
    attributes = {key: value for key, value in shape.attrib.items() if key != "style"}
    for rule in shape.get("style", "").split(";"):
        key, _, value = rule.partition(":")
        if key.strip() and value.strip() not in ("", "-"):  # a solid line is written as dash "-"
            attributes[key.strip()] = value.strip()
    return ET.Element(shape.tag.removeprefix(_SVG), attributes)
