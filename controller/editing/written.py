"""Values, lists and tables in the text of a sheet: only what is other is written anew."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from difflib import SequenceMatcher
from typing import Any

import tomli
import tomlkit
from tomlkit.items import InlineTable

from controller.building.entries import aliases
from controller.building.faults import key_written
from controller.building.kept import CalendarEntry, PlanRing, Tape, Week
from controller.editing.sheet import (
    Block,
    Cells,
    Row,
    cells_of,
    cells_text,
    new_row,
    row_text,
    rows_of,
    with_cell,
    with_rows,
    without_cell,
)

_WIDTH = 100  # columns of a row that is written anew
_LIST_WIDTH = 80  # columns of a list on several lines
# Where a new key stands: after those that go before it here; at the end, where it is not named.
_ORDER = {
    "calendar": tuple(aliases(CalendarEntry)),
    "rings": tuple(aliases(PlanRing)),
    "week": tuple(aliases(Week)),
    "tape": tuple(aliases(Tape)),
}

# ── values ───────────────────────────────────────────────────────────────────────────────────────


def written(value: Any) -> str:
    """A value as this program writes it; dates and times in quotes."""
    match value:
        case bool() | int() | float():
            return json.dumps(value)
        case Mapping():
            return braced(value, " ")
        case date() | time():
            return f'"{plain(value)}"'
        case str():
            return str(tomlkit.string(value).as_string())
    return f"[{', '.join(map(written, value))}]"


def plain(value: Any) -> Any:
    """A value so that those that mean the same are the same: dates and times as their texts."""
    match value:
        case Mapping():
            return {str(key): plain(one) for key, one in value.items()}
        case str():
            return str(value)
        case time():
            return value.isoformat("seconds" if value.second else "minutes")
        case date():
            return value.isoformat()
        case Sequence():
            return [plain(one) for one in value]
    return value


# ── lists ────────────────────────────────────────────────────────────────────────────────────────


def braced(keys: Mapping[str, Any], room: str) -> str:
    """An inline table, with `room` within its braces."""
    inner = ", ".join(f"{key_written(key)} = {written(one)}" for key, one in keys.items())
    return f"{{{room}{inner}{room}}}"


def inline(array: Cells, keys: Mapping[str, Any], table: str) -> str:
    """A new inline table for an array, spaced as the others are there."""
    room = "" if array.cells and not array.cells[-1].text.startswith("{ ") else " "
    return braced({key: keys[key] for key in sorted_keys(keys, table)}, room)


def inline_with(text: str, keys: Mapping[str, Any], table: str) -> str:
    """An inline table with these keys; the values that stay are as they were written."""
    found = tomlkit.value(text)
    assert isinstance(found, InlineTable), "the list is one of inline tables"
    if set(found) != set(keys):
        kept = {key: tomlkit.item(one).as_string() for key, one in found.items()}
        room = " " if text.startswith("{ ") else ""
        inner = ", ".join(
            f"{key} = {kept[key] if _same(found, keys, key) else written(keys[key])}"
            for key in sorted_keys(keys, table)
        )
        return f"{{{room}{inner}{room}}}"
    for key, value in keys.items():
        if not _same(found, keys, key):
            found[key] = tomlkit.value(written(value))
    return found.as_string()


def _same(before: Mapping[str, Any], after: Mapping[str, Any], key: str) -> bool:
    return key in before and bool(plain(before[key]) == plain(after[key]))


def _items_text(value: str, wanted: Sequence[Any], room: int, end: str) -> str:
    """An array of plain values with the items that are wanted: those that stay stay as written."""
    array = cells_of(value)
    before = [plain(one) for one in tomli.loads(f"it = {value}")["it"]]
    after = [plain(one) for one in wanted]
    commented = any("#" in cell.before + cell.after for cell in array.cells)
    if not set(before) & set(after) and not commented and "#" not in array.closing:
        return _laid_out(array.opening, wanted, room, end)
    matcher = SequenceMatcher(a=before, b=after, autojunk=False)
    for what, low, high, first, last in reversed(matcher.get_opcodes()):
        if what == "equal":
            continue
        for place in reversed(range(low, high)):
            array = without_cell(array, place)
        for number, one in enumerate(wanted[first:last]):
            array = with_cell(array, low + number, written(one), end)
    return cells_text(array)


def _laid_out(opening: str, values: Iterable[Any], room: int, end: str) -> str:
    """An array on one line where there is room for it, else on several."""
    items = list(map(written, values))
    on_one = f"{opening}{', '.join(items)}]"
    if opening == "[" and len(on_one) <= room:
        return on_one
    lines: list[str] = []
    for item in items:
        if lines and len(lines[-1]) + len(item) <= _LIST_WIDTH:
            lines[-1] += f" {item},"
        else:
            lines.append(f"  {item},")
    return end.join([opening, *lines, "]"])


# ── tables ───────────────────────────────────────────────────────────────────────────────────────


def with_table(block: Block, keys: Mapping[str, Any], table: str, end: str) -> Block:
    """A block with these keys and no others; lines of keys that stay as they are are not touched.

    A new key stands after the nearest of those that go before it in the table's order.
    """
    first, rows = rows_of(block)
    before = tomli.loads("".join(map(row_text, rows)))
    found: list[Row] = []
    for row in rows:
        if row.key and row.key not in keys:
            continue
        if row.key and not _same(before, keys, row.key):
            row = _with_value(row, keys[row.key], end)
        found.append(row)
    for key in sorted_keys(keys, table):
        if key not in before:
            row = _with_value(new_row(rows, key_written(key), end), keys[key], end)
            found.insert(_after(found, key, table), row)
    return with_rows(block, first, found)


def _with_value(row: Row, wanted: Any, end: str) -> Row:
    """A row with another value; its lead and its comment stay."""
    if isinstance(wanted, str | bool | Mapping) or not isinstance(wanted, Sequence):
        return row._replace(value=written(wanted))
    room = _WIDTH - len(row.lead)
    if row.value.startswith("["):
        return row._replace(value=_items_text(row.value, wanted, room, end))
    return row._replace(value=_laid_out("[", wanted, room, end))


def _after(rows: Sequence[Row], key: str, table: str) -> int:
    """The place after the last of the keys that go before `key`; after all, where none is known."""
    order = _ORDER.get(table)
    places = [place for place, row in enumerate(rows) if row.key]
    if order is None or key not in order:
        return places[-1] + 1 if places else 0
    earlier = order[: order.index(key)]
    return max((place + 1 for place in places if rows[place].key in earlier), default=0)


def sorted_keys(keys: Iterable[str], table: str) -> list[str]:
    """Keys in the order of their table; those that it does not have come last, as they came."""
    order = _ORDER.get(table, ())
    return sorted(keys, key=lambda key: order.index(key) if key in order else len(order))
