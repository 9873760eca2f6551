"""A building read from the texts of its files, as a daemon gives them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source


def building_of_texts(path: str, texts: Mapping[str, str]) -> Building:
    """The building of `path` whose files, by name, have these texts. Raises `Faults`."""
    whole = Path(path)
    files = [
        Source(str(whole if whole.name == name else whole / name), text.encode(errors="replace"))
        for name, text in sorted(texts.items())
    ]
    return building_of(path, files)
