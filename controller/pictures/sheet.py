"""One A4 sheet of SVG, landscape, in millimetres.

Presentation attributes only: no style, no script, nothing from outside. So it is safe in an
`<img>`, and inline in a page whose content security policy allows no inline style. Everything is
told by shape or hatching as well as by colour, and the colours stay apart in grey.

Written with the standard library's ElementTree: it is there, and is imported in some 5 ms where an
SVG library took 170 (measured on the machine this was written on).
"""

from __future__ import annotations

import re
from textwrap import wrap
from typing import Literal, NamedTuple
from xml.etree import ElementTree as ET

WIDTH, HEIGHT = 297.0, 210.0  # ISO 216: A4
MARGIN = 10.0

INK = "#20242c"
PALE_INK = "#5d6470"
RULE = "#c3c8cf"
PAPER = "#ffffff"
SOUND = "#123a5e"  # what sounds, and what dials show
WARN = "#a8321e"  # what is cut, missed or driven
TINT = "#f7e8c4"  # a day that departs from the usual
NIGHT = "#eef0f3"
NIGHT_TINT = "#ecdfc0"  # the nights of such a day

_LETTER = 0.54  # mean width of a letter in a sans-serif face, of its size: common practice
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, 2.2

Anchor = Literal["start", "middle", "end"]


class Fill(NamedTuple):
    """A tint and the lines drawn over it: one tile of so many mm."""

    tint: str
    tile: float
    lines: str  # path
    ink: str
    width: float
    turned: int = 0  # degrees


# The plans of a file in their order, and then anew: the first, mostly the ordinary day, is plain.
PLAN_FILLS = (
    Fill("#dcebe3", 2.0, "", INK, 0.0),
    Fill("#f6ddb0", 1.3, "M0,0V1.3", "#8a5a06", 0.3, 45),
    Fill("#c9d8f0", 1.3, "M0,0.65H1.3", "#2d5290", 0.3),
    Fill("#f2cfc8", 1.6, "M0,0V1.6M0,0H1.6", "#94402f", 0.28, 45),
    Fill("#e0d4ec", 1.2, "M0.3,0.6h0.6M0.6,0.3v0.6", "#5b3a86", 0.35),
    Fill("#b9d6d3", 1.3, "M0.65,0V1.3", "#1c5f5a", 0.3),
    Fill("#ece3a4", 2.2, "M0,0V2.2", "#6d6206", 0.9, -45),
    Fill("#d5d5d5", 1.5, "M0,0.75H1.5M0.75,0V1.5", "#4c4c4c", 0.2),
    Fill("#f4d3e2", 1.3, "M0,0V1.3", "#8b2f5c", 0.3, -45),
    Fill("#c3dba8", 2.2, "M0,1.1H2.2", "#466b1a", 0.9),
)
_FILLS = {
    "quiet": Fill("#e3e6ea", 1.4, "M0,0V1.4", "#9299a3", 0.22, 45),
    "never": Fill("#ffffff", 1.1, "M0,0V1.1M0,0H1.1", WARN, 0.22, 45),
    "twice": Fill("#ffffff", 0.9, "M0,0V0.9", WARN, 0.25),
    "dark": Fill("#cfd3d9", 1.1, "M0,0V1.1", "#7d8590", 0.25, -45),
    "many": Fill(SOUND, 0.7, "M0,0V0.7", PAPER, 0.16),
    "silent-many": Fill(PAPER, 0.7, "M0,0V0.7", SOUND, 0.16),
} | {f"plan-{place}": fill for place, fill in enumerate(PLAN_FILLS)}


class Sheet:
    """A sheet being drawn. Lengths are mm from the upper left; names are drawn in order."""

    def __init__(self, name: str, title: str, description: str) -> None:
        """`name` keeps this drawing's references apart from those of others on one page."""
        self._name = name
        self._root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "width": f"{WIDTH:g}mm",
                "height": f"{HEIGHT:g}mm",
                "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}",
                "role": "img",
                "font-family": "sans-serif",
            },
        )
        ET.SubElement(self._root, "title").text = without_unreadable(title)
        ET.SubElement(self._root, "desc").text = without_unreadable(description)
        self._patterns = ET.SubElement(self._root, "defs")
        self._made: set[str] = set()
        self.rect(0, 0, WIDTH, HEIGHT, PAPER)

    def xml(self) -> str:
        """The whole file, without an XML declaration so that it can stand inside a page."""
        return ET.tostring(self._root, encoding="unicode") + "\n"

    def rect(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        fill: str = "none",
        *,
        stroke: str = "none",
        thick: float = 0.2,
        says: str = "",
    ) -> None:
        """A rectangle; `fill` is a colour or comes from `fill`. `says` shows under a pointer."""
        attributes = {"x": _mm(x), "y": _mm(y), "width": _mm(width), "height": _mm(height)}
        attributes["fill"] = fill
        if stroke != "none":
            attributes |= {"stroke": stroke, "stroke-width": _mm(thick)}
        self._add("rect", attributes, says)

    def path(
        self,
        path: str,
        stroke: str = "none",
        thick: float = 0.2,
        *,
        fill: str = "none",
        dash: str = "",
        says: str = "",
    ) -> None:
        """A path of SVG's own path language."""
        attributes = {"d": path, "fill": fill}
        if stroke != "none":
            attributes |= {"stroke": stroke, "stroke-width": _mm(thick)}
        if dash:
            attributes["stroke-dasharray"] = dash
        self._add("path", attributes, says)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        bold: bool = False,
        anchor: Anchor = "start",
        fill: str = INK,
        room: float | None = None,
    ) -> None:
        """One line of text, cut with "…" where it would be wider than `room`."""
        attributes = {"x": _mm(x), "y": _mm(y), "font-size": _mm(size), "fill": fill}
        if bold:
            attributes["font-weight"] = "bold"
        if anchor != "start":
            attributes["text-anchor"] = anchor
        shown = words if room is None else shortened(words, letters_in(room, size, bold=bold))
        self._add("text", attributes, words if shown != words else "", shown)

    def fill(self, name: str) -> str:
        """The paint of a hatching, defined where it is first used."""
        key = f"{self._name}-{name}"
        if name not in self._made:
            self._made.add(name)
            tile = _FILLS[name]
            size = _mm(tile.tile)
            attributes = {"id": key, "width": size, "height": size}
            attributes["patternUnits"] = "userSpaceOnUse"
            if tile.turned:
                attributes["patternTransform"] = f"rotate({tile.turned})"
            pattern = ET.SubElement(self._patterns, "pattern", attributes)
            ET.SubElement(pattern, "rect", {"width": size, "height": size, "fill": tile.tint})
            if tile.lines:
                lines = {"d": tile.lines, "fill": "none", "stroke": tile.ink}
                ET.SubElement(pattern, "path", lines | {"stroke-width": _mm(tile.width)})
        return f"url(#{key})"

    def plan_fill(self, place: int | None) -> str:
        """The paint of a plan by its place in the file; paper where there is none."""
        return PAPER if place is None else self.fill(f"plan-{place % len(PLAN_FILLS)}")

    def _add(self, tag: str, attributes: dict[str, str], says: str, words: str = "") -> None:
        element = ET.SubElement(self._root, tag, attributes)
        if words:
            element.text = without_unreadable(words)
        if says:
            title = ET.SubElement(element, "title")
            title.text = without_unreadable(says)
            title.tail, element.text = element.text, None


def letters_in(room: float, size: float, *, bold: bool = False) -> int:
    """How many letters of that size are sure to fit in `room` mm, roughly."""
    return max(1, int(room / (size * _LETTER * (1.08 if bold else 1.0))))


def shortened(words: str, most: int) -> str:
    """The words, or as many of their letters as may stand, with "…"."""
    return words if len(words) <= most else words[: max(most - 1, 0)].rstrip() + "…"


def wrapped(words: str, most: int, lines: int) -> list[str]:
    """The words in so many lines at most, each of `most` letters; the last ends in "…" if cut."""
    found = wrap(words, most, break_on_hyphens=False)
    if len(found) > lines:
        found = [*found[: lines - 1], shortened(" ".join(found[lines - 1 :]), most)]
    return found


def _mm(length: float) -> str:
    """To a hundredth of a millimetre."""
    return f"{length:.2f}".rstrip("0").rstrip(".")


def without_unreadable(words: str) -> str:
    """What XML cannot hold is shown as what it is: unreadable."""
    return _NOT_XML.sub("\ufffd", words)
