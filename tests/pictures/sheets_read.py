"""Reading a drawn sheet: what a browser, a printer and a screen reader would find in it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"
WIDTH, HEIGHT = 297, 210  # ISO 216: A4


def sheet(text: str) -> ET.Element:
    """The sheet's root, having looked for what a page's content security policy would refuse."""
    root = ET.fromstring(text)
    assert root.tag == f"{SVG}svg"
    assert root.get("width") == "297mm"
    assert root.get("height") == "210mm"
    for element in root.iter():
        assert element.tag in {SVG + tag for tag in TAGS}, element.tag
        for name, value in element.attrib.items():
            assert name != "style"
            assert name != "class"
            assert not name.startswith("on")
            assert "href" not in name
            assert "url(" not in value or re.fullmatch(r"url\(#[a-z0-9-]+\)", value)
    assert root[0].tag == f"{SVG}title"
    assert root[1].tag == f"{SVG}desc"
    return root


TAGS = ("svg", "title", "desc", "defs", "pattern", "rect", "path", "text")


def told(root: ET.Element) -> list[str]:
    """What shows under a pointer, in order."""
    return [title.text or "" for element in root[3:] for title in element.findall(f"{SVG}title")]


def words(root: ET.Element) -> list[str]:
    """What stands on the sheet to be read, in order."""
    return [
        (element.text or "") + "".join(child.tail or "" for child in element)
        for element in root.iter(f"{SVG}text")
    ]


def outside(root: ET.Element) -> Iterator[str]:
    """What would be cut off by the paper's edge."""
    for element in root[3:]:
        if element.tag == f"{SVG}rect":
            x, y, wide, high = (float(element.get(name, 0)) for name in RECT)
            if x < 0 or y < 0 or x + wide > WIDTH + 0.01 or y + high > HEIGHT + 0.01:
                yield ET.tostring(element, encoding="unicode")
        if element.tag == f"{SVG}text":
            x, y = float(element.get("x", 0)), float(element.get("y", 0))
            if not (0 <= x <= WIDTH and 0 <= y <= HEIGHT):
                yield ET.tostring(element, encoding="unicode")


RECT = ("x", "y", "width", "height")
