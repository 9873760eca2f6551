"""A TOML text taken apart along its lines, to be changed where it must be and nowhere else.

A text is blocks, one a heading; a block is rows, one a key; an array is cells, one an item. Put
together again they are the text, byte for byte. Rows and cells are read by tomlkit, which keeps how
everything was written; the blocks are cut apart first, for it counts the comment above a heading to
the table before that, and puts entries of a list of tables that stand apart beside each other.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import tomli
import tomlkit
from tomlkit.exceptions import ParseError
from tomlkit.items import Array, Comment, Item, Whitespace

_LINE = re.compile(r"[^\n]*\n|[^\n]+")  # TOML 1.0, "Newline": LF or CRLF, and no other
_GAP = re.compile(r"(?:[ \t\r\n,]|#[^\r\n]*)*")  # all that may stand between items of an array
_TO_LINE_END = r"(?:[ \t]*(?:#[^\r\n]*)?(?=\r?\n))?"  # a comment, if nothing else comes there
_OPENING = re.compile(r"\[" + _TO_LINE_END)
_AFTER = re.compile(r"(?:[ \t]*,)?" + _TO_LINE_END)
_COMMA = re.compile(r"[ \t]*,")
_LAST_LINE_END = re.compile(r"\r?\n[ \t]*\Z")


class NotSoWritten(Exception):
    """The text is written in a way that is not changed here; in words."""


# ── blocks ───────────────────────────────────────────────────────────────────────────────────────


class Block(NamedTuple):
    """A heading and what stands below it; the first of a text has none."""

    heading: tuple[str, ...]  # ("plans", "regular"); () of what stands before any heading
    body: str  # whole lines, from its heading to its last key
    tail: str  # the blank lines and comments after it, up to the next heading


def blocks_of(text: str) -> list[Block]:
    """The blocks of a sound TOML text that ends with a line end. The first has no heading."""
    blocks: list[Block] = []
    gathered = ""
    for line in _LINE.findall(text):
        # Within an array or a string of several lines what was gathered is not whole.
        if line.lstrip(" \t").startswith("[") and _whole(gathered):
            blocks.append(_block(gathered))
            gathered = ""
        gathered += line
    return [*blocks, _block(gathered)]


def _whole(text: str) -> bool:
    try:
        tomli.loads(text)
    except tomli.TOMLDecodeError:
        return False
    return True


def _block(text: str) -> Block:
    lines = _LINE.findall(text)
    end = len(lines)
    while end and (not (line := lines[end - 1].strip()) or line.startswith("#")):
        end -= 1
    heading = _heading(lines[0]) if lines and lines[0].lstrip(" \t").startswith("[") else ()
    return Block(heading, "".join(lines[:end]), "".join(lines[end:]))


def _heading(line: str) -> tuple[str, ...]:
    """ "[plans.regular]" and "[[calendar]]" as TOML reads them."""
    found: list[str] = []
    below = tomli.loads(line)
    while below:
        ((name, below),) = below.items()
        found.append(name)
        if isinstance(below, list):
            (below,) = below
    return tuple(found)


def joined(blocks: Sequence[Block]) -> str:
    """The text of blocks."""
    return "".join(block.body + block.tail for block in blocks)


def line_end(text: str) -> str:
    """The line end of a text: its first; of one without, LF."""
    end = text.find("\n")
    return "\r\n" if end > 0 and text[end - 1] == "\r" else "\n"


def without(blocks: Sequence[Block], place: int) -> list[Block]:
    """The block is gone; the comments after it stay, and no more blank lines than there were."""
    gone, before = blocks[place], blocks[place - 1]
    after = blocks[place + 1] if place + 1 < len(blocks) else None
    if after is not None and after.heading[:1] == gone.heading[:1] and not gone.tail.strip():
        tail = before.tail  # blank lines between entries that were alike
    elif not before.tail.strip():
        tail = gone.tail
    elif not _LINE.findall(before.tail)[-1].strip():
        tail = before.tail + _unspaced(gone.tail)
    else:
        tail = before.tail + gone.tail
    return [*blocks[: place - 1], before._replace(tail=tail), *blocks[place + 1 :]]


def _unspaced(tail: str) -> str:
    """Without the blank lines that it begins with."""
    lines = _LINE.findall(tail)
    while lines and not lines[0].strip():
        lines.pop(0)
    return "".join(lines)


def with_before(blocks: Sequence[Block], place: int, new: Block, space: str) -> list[Block]:
    """`new` stands before the block at `place`, with `space` between them.

    A comment right above that block, with a blank line above it, stays right above it.
    """
    before = blocks[place - 1]
    lines = _LINE.findall(before.tail)
    its = len(lines)
    while its and lines[its - 1].strip():
        its -= 1
    above, comment = "".join(lines[:its]), "".join(lines[its:])
    if not (above and comment):
        return [*blocks[:place], new._replace(tail=space), *blocks[place:]]
    between = space if above.strip() else above
    now = [before._replace(tail=above), new._replace(tail=between + comment)]
    return [*blocks[: place - 1], *now, *blocks[place:]]


def with_after(blocks: Sequence[Block], place: int, new: Block, space: str) -> list[Block]:
    """`new` stands after the block at `place`, and before what comes after that."""
    before = blocks[place]
    now = [before._replace(tail=space), new._replace(tail=before.tail)]
    return [*blocks[:place], *now, *blocks[place + 1 :]]


def with_last(blocks: Sequence[Block], new: Block, end: str) -> list[Block]:
    """`new` is the last of the text, a blank line after all else."""
    last = blocks[-1]
    lines = _LINE.findall(last.body + last.tail)
    tail = last.tail + (end if lines and lines[-1].strip() else "")
    return [*blocks[:-1], last._replace(tail=tail), new]


# ── rows ─────────────────────────────────────────────────────────────────────────────────────────


class Row(NamedTuple):
    """A key with its value as written; or a comment, or blank lines, without a key."""

    key: str
    lead: str  # up to the value: indentation, key, equals sign
    value: str
    rest: str  # after the value: a comment, the line's end


def rows_of(block: Block) -> tuple[str, list[Row]]:
    """The line of a block's heading, and its rows. Raises `NotSoWritten` at dotted keys."""
    first = _LINE.findall(block.body)[0] if block.heading else ""
    below = block.body[len(first) :]
    rows = [_row(key, item) for key, item in tomlkit.parse(below).body]
    if "".join(map(row_text, rows)) != below:
        raise NotSoWritten("keys with dots in them, or in quotes, are changed only in an editor")
    return first, rows


def _row(key: object, item: Item) -> Row:
    if isinstance(item, Comment | Whitespace) or key is None:
        return Row("", "", "", item.as_string())
    trivia = item.trivia
    lead = f"{trivia.indent}{key.as_string()}{key.sep}"  # type: ignore[attr-defined]
    rest = f"{trivia.comment_ws}{trivia.comment}{trivia.trail}"
    return Row(key.key, lead, item.as_string(), rest)  # type: ignore[attr-defined]


def row_text(row: Row) -> str:
    """The row as it is written."""
    return f"{row.lead}{row.value}{row.rest}"


def with_rows(block: Block, first: str, rows: Sequence[Row]) -> Block:
    """The block with these rows below its heading's line."""
    return block._replace(body=first + "".join(map(row_text, rows)))


def new_row(rows: Sequence[Row], key: str, end: str) -> Row:
    """A row still without a value; where the others' equals signs are in line, so is its own."""
    columns = {row.lead.rstrip().rfind("=") for row in rows if row.key}
    keys = {len(row.key) for row in rows}
    column = max(columns) if len(columns) == 1 and len(keys) > 1 else 0
    indents = [row.lead[: len(row.lead) - len(row.lead.lstrip())] for row in rows if row.key]
    indent = indents[-1] if indents else ""
    return Row(key, f"{indent}{key} ".ljust(column) + "= ", "", end)


# ── cells ────────────────────────────────────────────────────────────────────────────────────────


class Cell(NamedTuple):
    """One item of an array."""

    before: str  # since the cell before: line ends, indentation, comments on lines of their own
    text: str
    after: str  # its comma, and the comment on its line


class Cells(NamedTuple):
    """An array as it is written."""

    opening: str  # its bracket, and the comment on that line
    cells: list[Cell]
    closing: str


def cells_of(value: str) -> Cells:
    """The cells of an array. Raises `NotSoWritten` where it is none."""
    try:
        array = tomlkit.value(value)
    except ParseError:
        array = None
    opening = _OPENING.match(value)
    if not isinstance(array, Array) or opening is None:
        raise NotSoWritten("a list in brackets was expected")
    cells: list[Cell] = []
    at = opening.end()
    for item in array:
        text = item.as_string() if isinstance(item, Item) else str(item).lower()
        begin = _end(_GAP, value, at)
        if not value.startswith(text, begin):
            raise NotSoWritten("it is written in a way that only an editor changes")
        end = begin + len(text)
        after = _end(_AFTER, value, end)
        cells.append(Cell(value[at:begin], text, value[end:after]))
        at = after
    return Cells(opening[0], cells, value[at:])


def _end(pattern: re.Pattern[str], text: str, at: int) -> int:
    match = pattern.match(text, at)
    assert match is not None, "these match nothing, too"
    return match.end()


def cells_text(cells: Cells) -> str:
    """The array as it is written."""
    inner = "".join(cell.before + cell.text + cell.after for cell in cells.cells)
    return cells.opening + inner + cells.closing


def without_cell(array: Cells, place: int) -> Cells:
    """The item is gone, and its line with it if nothing else stands there."""
    cells, closing = list(array.cells), array.closing
    gone = cells.pop(place)
    own_line = "\n" in gone.before
    if place < len(cells):
        cells[place] = cells[place]._replace(before=_following(gone, cells[place].before, place))
    else:
        if own_line:
            closing = _comments(gone.before) + closing
        if cells and "," not in gone.after.partition("#")[0]:
            last = cells[-1]
            cells[-1] = last._replace(after=_COMMA.sub("", last.after, count=1))
    if place and not own_line:  # a comment on a line that others share stays with them
        cells[place - 1] = _noted(cells[place - 1], _note(gone))
    if not cells and "#" not in array.opening and not closing.strip("\r\n\t ]"):
        closing = "]"
    return Cells(array.opening, cells, closing)


def _following(gone: Cell, before: str, place: int) -> str:
    """What then stands before the cell after one that is gone."""
    if "\n" in before:
        return _comments(gone.before) + before if "\n" in gone.before else before
    return gone.before if "\n" in gone.before or place == 0 else before


def _comments(before: str) -> str:
    """Comments on lines of their own, without the line end and indentation after the last."""
    return _LAST_LINE_END.sub("", before)


def _note(cell: Cell) -> str:
    """The comment on a cell's line."""
    return _COMMA.sub("", cell.after, count=1)


def _noted(cell: Cell, note: str) -> Cell:
    return cell._replace(after=cell.after + note) if note.strip() else cell


def with_cell(array: Cells, place: int, text: str, end: str, note: str = "") -> Cells:
    """One item more, at `place`, with `note` as the comment on its line; laid out as the others."""
    cells, closing = list(array.cells), array.closing
    lined = [cell.before for cell in cells if "\n" in cell.before]
    if not cells and "\n" not in closing and text.startswith("{"):
        return Cells(array.opening, [Cell(f"{end}  ", text, f",{note}")], f"{end}]")
    if not cells and "\n" not in closing:
        return Cells(array.opening, [Cell("", text, note)], "]")
    last = place == len(cells)
    bare = last and bool(cells) and "," not in cells[-1].after.partition("#")[0]
    if bare:
        cells[-1] = cells[-1]._replace(after="," + cells[-1].after)
    in_line = not lined if last else "\n" not in cells[place].before
    if not cells:
        before = f"{end}  "
    elif not in_line:
        near = cells[place - 1 if place else 0].before
        found = _LAST_LINE_END.search(near if "\n" in near else lined[0])
        before = found[0] if found else f"{end}  "
    elif place:
        before = " "
    else:
        before = cells[0].before
        cells[0] = cells[0]._replace(before=" ")
    cells.insert(place, Cell(before, text, ("" if bare else ",") + note))
    return Cells(array.opening, cells, closing)


def moved_cell(array: Cells, place: int, to: int, end: str) -> Cells:
    """The item stands at `to` among the others, with the comment on its line if that is its own."""
    cell = array.cells[place]
    alone = "\n" in cell.before
    note = _note(cell) if alone else ""
    return with_cell(without_cell(array, place), to, cell.text, end, note)
