"""Where drawings go: lines to a terminal as wide and as colourful as it is, sheets to a file."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from rich.text import Text

_ASCII = str.maketrans("–×…−", "-x~-")  # letter by letter, so that what is coloured stays so
ORDERS_APART = "Drawn from the file: what a running daemon was ordered to follow is not in it."


def print_lines(lines_of: Callable[[int, bool], Iterable[Text]]) -> None:
    """Print the lines that `lines_of` gives for a width, and for whether there is only ASCII.

    Colour is left out where there is no terminal, and where NO_COLOR is set.
    """
    from rich.console import Console

    console = Console(highlight=False)
    # The fonts of a plain screen console lack some of the shapes.
    ascii_only = not console.encoding.startswith("utf") or os.environ.get("TERM") == "linux"
    for line in lines_of(console.width, ascii_only):
        if ascii_only:
            line.plain = line.plain.translate(_ASCII)
        console.print(line, soft_wrap=True)


def write_sheet(svg: str, file: Path) -> None:
    """Write a sheet, in place of one that is there; "-" is the standard output."""
    if str(file) == "-":
        typer.get_binary_stream("stdout").write(svg.encode())
        return
    file.write_text(svg, encoding="utf-8")
    typer.echo(f"Drawn: {file}")
