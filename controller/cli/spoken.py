"""How columns and sentences are laid out for people: 80 plain columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

WIDTH = 80
_GAP = 2  # between columns


def columns(rows: Sequence[Sequence[str]], indent: int = 0) -> Iterator[str]:
    """Rows in columns; the widest columns are wrapped until all fit in 80."""
    if not rows:
        return
    kept = [index for index in range(len(rows[0])) if any(row[index] for row in rows)]
    widths = [max(len(row[index]) for row in rows) for index in kept]
    room = WIDTH - indent - _GAP * (len(kept) - 1)
    while sum(widths) > room:
        widths[widths.index(max(widths))] -= 1
    for row in rows:
        cells = [
            textwrap.wrap(row[index], width, break_on_hyphens=False) or [""]
            for index, width in zip(kept, widths, strict=True)
        ]
        for number in range(max(map(len, cells))):
            line = (" " * _GAP).join(
                (cell[number] if number < len(cell) else "").ljust(width)
                for cell, width in zip(cells, widths, strict=True)
            )
            yield (" " * indent + line).rstrip()


def paragraph(text: str, mark: str = "  · ") -> str:
    """A sentence or two, wrapped to 80 columns under its mark."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=mark,
        subsequent_indent=" " * len(mark),
        break_on_hyphens=False,
    )
