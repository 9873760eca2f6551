"""The keeper's tables changed in the text that a person wrote: texts in, a text out.

Only what is changed is written anew. Comments, order, layout, quotes, line ends and the rest of
each line stay as they are, to the byte. With a key or a ring that is taken away goes the comment on
its line, with an entry or a plan all that stands from its heading to its last key. Other comments
stay, those above it and below it too.

Every new text is read again before it is given back: it must say exactly what was asked for, or
the edit is refused. So a way of writing that is not foreseen here is never damaged.

An edit and its opposite give the same bytes where the first of them adds: a ring, an entry, a
plan, a row, half-days. They do not where the first takes away (its inline comments and its place
among equals are gone), nor where a list is emptied and filled again (its layout is gone). `undo`
gives the same bytes always, for it puts back what was kept.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import tomli

from controller.building.model import INSTALLERS, KEEPERS
from controller.editing.entry_changes import (
    Drop,
    EntryChange,
    Insert,
    Keys,
    Move,
    Put,
    Step,
    stepped,
    steps_in_time,
    steps_of,
)
from controller.editing.keeper_file import EditRefused
from controller.editing.sheet import (
    Block,
    NotSoWritten,
    blocks_of,
    cells_of,
    cells_text,
    joined,
    line_end,
    moved_cell,
    rows_of,
    with_after,
    with_before,
    with_cell,
    with_last,
    with_rows,
    without,
    without_cell,
)
from controller.editing.written import inline, inline_with, plain, sorted_keys, with_table, written

Texts = Mapping[str, str]  # of a building's files by name, line ends as they are in the file
_BOM = "\ufeff"


class Change(NamedTuple):
    """One file of a building, and its whole new text."""

    file: str
    text: str


class PunchedTape(NamedTuple):
    """A tape as it is written in the file."""

    length: str  # "12h"
    starts: str  # "06:00"
    for_: str  # "4s"
    holes: Mapping[str, Sequence[str]]  # zone → offsets, "08:30"


# ── which file ───────────────────────────────────────────────────────────────────────────────────


def entries_of(texts: Texts, table: str) -> list[Keys]:
    """The entries of "calendar", or the rings of "plans.exams", with their keys as in the file."""
    name = table.partition(".")[2]
    found = _data_of(texts, table)
    return list(found.get(name, {}).get("rings", []) if name else found)


def table_file(texts: Texts, table: str) -> str:
    """Which file holds a table: "calendar", "plans.exams". Where none does, which should.

    A plan that is not there yet belongs to the file with the other plans. All else that is not
    there yet belongs to the keeper's file: of the files without any table of the installer's the
    one with most of the keeper's, and of equals the first by name. Where each has some of the
    installer's, the one with most of the keeper's. Raises `EditRefused` where there are several,
    each has some of the installer's and none has any of the keeper's.
    """
    read = {file: _data(file, text) for file, text in sorted(texts.items())}
    head, _, name = table.partition(".")
    for file, data in read.items():
        found = data.get(head)
        if found is not None and (not name or (isinstance(found, dict) and name in found)):
            return file
    if name:
        return table_file(texts, head)

    def fitness(file: str) -> tuple[bool, int]:
        mine = sum(one in read[file] for one in KEEPERS)
        return not any(one in read[file] for one in INSTALLERS), mine

    best = max(read, key=fitness)
    if len(read) > 1 and fitness(best) == (False, 0):
        raise EditRefused(
            f"None of {', '.join(read)} is the keeper's file, for each has tables of the "
            "installer's and no others. Put a file beside them, such as 20-timetable.toml."
        )
    return best


def _data_of(texts: Texts, table: str) -> Any:
    """What the file says that holds a table: of "plans.exams" all its plans."""
    file = table_file(texts, table)
    return _data(file, texts[file]).get(table.partition(".")[0], {})


def _data(file: str, text: str) -> dict[str, Any]:
    try:
        return tomli.loads(text.removeprefix(_BOM))
    except tomli.TOMLDecodeError as error:
        raise EditRefused(f"{file} is not TOML ({error}): mend it in an editor first.") from None


# ── edits ────────────────────────────────────────────────────────────────────────────────────────


def with_calendar(texts: Texts, changes: Sequence[EntryChange]) -> Change:
    """Entries of the calendar added, replaced and removed, in one go.

    Keys are those of the file: `on`, or `from` and `until`; `plan`; `says`, `lift_quiet` and what
    else an entry may have. A new entry is the last, unless it says before which it stands.
    """

    def says(data: dict[str, Any]) -> None:
        before = data.pop("calendar", [])
        if left := stepped(before, steps_of(len(before), changes)):
            data["calendar"] = left

    def writes(blocks: list[Block], end: str) -> list[Block]:
        in_a_list = "calendar" in tomli.loads(blocks[0].body)  # before all headings
        change = _calendar_list if in_a_list else _calendar_blocks
        return change(blocks, changes, end)

    return _edited(texts, table_file(texts, "calendar"), says, writes)


def with_plan(texts: Texts, plan: str, changes: Sequence[EntryChange] | None) -> Change:
    """A plan's rings added, replaced and removed in one go; None: the plan is gone.

    A plan that is not there is made. A ring that is new or at another time stands where its time
    belongs, if the others stand in order.
    """
    file = table_file(texts, f"plans.{plan}")
    rings = entries_of(texts, f"plans.{plan}")
    known = plan in _data_of(texts, f"plans.{plan}")
    steps = steps_in_time(rings, changes or ())

    def says(data: dict[str, Any]) -> None:
        plans = data.setdefault("plans", {})
        if changes is None:
            del plans[plan]
            if not plans:
                del data["plans"]
        else:
            plans.setdefault(plan, {})["rings"] = stepped(rings, steps)

    def writes(blocks: list[Block], end: str) -> list[Block]:
        place = _place(blocks, ("plans", plan))
        if known or changes is None:
            _must_be_there(place, f"[plans.{plan}]")
        if changes is None:
            return without(blocks, place)
        if place < 0:
            body = f"[plans.{plan}]{end}rings = []{end}"
            blocks = _new_block(blocks, Block(("plans", plan), body, ""), end)
            place = _place(blocks, ("plans", plan))
        return _with_value(
            blocks, place, "rings", lambda value: _list_text(value, steps, "rings", end)
        )

    return _edited(texts, file, says, writes)


def with_plan_like(texts: Texts, plan: str, other: str) -> Change:
    """A new plan with the rings of another, comments and all."""
    file = table_file(texts, f"plans.{other}")

    def says(data: dict[str, Any]) -> None:
        data["plans"][plan] = data["plans"][other]

    def writes(blocks: list[Block], end: str) -> list[Block]:
        place = _place(blocks, ("plans", other))
        _must_be_there(place, f"[plans.{other}]")
        first, _ = rows_of(blocks[place])
        body = f"[plans.{plan}]{end}" + blocks[place].body[len(first) :]
        return _new_block(blocks, Block(("plans", plan), body, ""), end)

    return _edited(texts, file, says, writes)


def with_week(texts: Texts, days: Mapping[str, str | None]) -> Change:
    """Weekdays ("mon") with other plans; None: a day is left out."""
    return _with_keys(texts, "week", days)


def with_quiet(texts: Texts, rows: Mapping[str, Sequence[str] | None]) -> Change:
    """Zones with other quiet rows ("sat", "fri night"); None: without one.

    The order within a row means nothing: half-days that a row has stay where they are.
    """
    before = _data_of(texts, "quiet")
    wanted: dict[str, list[str] | None] = {}
    for zone, row in rows.items():
        there = before.get(zone, [])
        added = [one for one in row or () if one not in there]
        wanted[zone] = None if row is None else [*(one for one in there if one in row), *added]
    return _with_keys(texts, "quiet", wanted)


def with_tape(texts: Texts, tape: PunchedTape | None) -> Change:
    """Another tape, in [tape] and [tape.holes]; None: without one."""
    file = table_file(texts, "tape")

    def says(data: dict[str, Any]) -> None:
        data.pop("tape", None)
        if tape is not None:
            holes = {zone: list(offsets) for zone, offsets in tape.holes.items()}
            data["tape"] = _tape_keys(tape) | {"holes": holes}

    def writes(blocks: list[Block], end: str) -> list[Block]:
        for heading in (("tape", "holes"), ("tape",)):
            place = _place(blocks, heading)
            if tape is None and place >= 0:
                blocks = without(blocks, place)
        if tape is None:
            return blocks
        if _place(blocks, ("tape",)) < 0:
            blocks = _new_block(blocks, Block(("tape",), f"[tape]{end}", ""), end)
        if _place(blocks, ("tape", "holes")) < 0:
            new = Block(("tape", "holes"), f"[tape.holes]{end}", "")
            blocks = with_after(blocks, _place(blocks, ("tape",)), new, end)
        place = _place(blocks, ("tape",))
        blocks[place] = with_table(blocks[place], _tape_keys(tape), "tape", end)
        place = _place(blocks, ("tape", "holes"))
        blocks[place] = with_table(blocks[place], tape.holes, "holes", end)
        return blocks

    return _edited(texts, file, says, writes)


def _tape_keys(tape: PunchedTape) -> dict[str, Any]:
    return {"length": tape.length, "starts": tape.starts, "for": tape.for_}


def _with_keys(texts: Texts, table: str, keys: Mapping[str, Any]) -> Change:
    """A table with some keys otherwise; None: without them."""
    file = table_file(texts, table)
    before = _data_of(texts, table)
    wanted = {key: one for key, one in {**before, **keys}.items() if one is not None}
    if wanted == before:
        return Change(file, texts[file])

    def says(data: dict[str, Any]) -> None:
        data[table] = wanted

    def writes(blocks: list[Block], end: str) -> list[Block]:
        place = _place(blocks, (table,))
        if before:
            _must_be_there(place, f"[{table}]")
        if place < 0:
            blocks = _new_block(blocks, Block((table,), f"[{table}]{end}", ""), end)
            place = _place(blocks, (table,))
        changed = with_table(blocks[place], wanted, table, end)
        return [*blocks[:place], changed, *blocks[place + 1 :]]

    return _edited(texts, file, says, writes)


def _edited(
    texts: Texts,
    file: str,
    says: Callable[[dict[str, Any]], None],
    writes: Callable[[list[Block], str], list[Block]],
) -> Change:
    """The file as `writes` writes it, if that says what `says` makes of what the file says now."""
    before = texts[file]
    wanted = _data(file, before)
    says(wanted)
    text = before.removeprefix(_BOM)
    end = line_end(text)
    missing = end if text and not text.endswith("\n") else ""  # of the last line
    try:
        after = joined(writes(blocks_of(text + missing), end)).removesuffix(missing)
    except NotSoWritten as fault:
        raise EditRefused(f"{file}: {fault}; change this in an editor.") from None
    if not _says(after, wanted):
        raise EditRefused(
            f"{file} is written in a way that this edit cannot keep; change it in an editor."
        )
    return Change(file, before[: len(before) - len(text)] + after)


def _says(text: str, wanted: Keys) -> bool:
    try:
        return bool(plain(tomli.loads(text)) == plain(wanted))
    except tomli.TOMLDecodeError:
        return False


# ── the calendar ─────────────────────────────────────────────────────────────────────────────────


def _calendar_blocks(blocks: list[Block], changes: Sequence[EntryChange], end: str) -> list[Block]:
    """[[calendar]], once for each entry."""
    space = _space_between(blocks, end)
    count = sum(block.heading == ("calendar",) for block in blocks)
    for step in steps_of(count, changes):
        places = [place for place, block in enumerate(blocks) if block.heading == ("calendar",)]
        match step:
            case Put(place, keys):
                at = places[place]
                blocks[at] = with_table(blocks[at], keys, "calendar", end)
            case Drop(place):
                blocks = without(blocks, places[place])
            case Insert(place, keys):
                rows = [
                    f"{key} = {written(keys[key])}{end}" for key in sorted_keys(keys, "calendar")
                ]
                new = Block(("calendar",), f"[[calendar]]{end}" + "".join(rows), "")
                if place < len(places):
                    blocks = with_before(blocks, places[place], new, space)
                elif places:
                    blocks = with_after(blocks, places[-1], new, space)
                else:
                    blocks = with_last(blocks, new, end)
    return blocks


def _space_between(blocks: Sequence[Block], end: str) -> str:
    """What stands between two entries of the calendar; a blank line where there are no two."""
    for before, after in pairwise(blocks):
        alike = before.heading == after.heading == ("calendar",)
        if alike and not before.tail.strip():
            return before.tail
    return end


def _calendar_list(blocks: list[Block], changes: Sequence[EntryChange], end: str) -> list[Block]:
    """calendar = [{ … }, …]."""
    steps = steps_of(len(tomli.loads(blocks[0].body)["calendar"]), changes)
    return _with_value(
        blocks, 0, "calendar", lambda value: _list_text(value, steps, "calendar", end)
    )


def _list_text(value: str, steps: Iterable[Step], table: str, end: str) -> str:
    """An array of inline tables after these steps."""
    array = cells_of(value)
    for step in steps:
        match step:
            case Put(place, keys):
                cell = array.cells[place]
                array.cells[place] = cell._replace(text=inline_with(cell.text, keys, table))
            case Drop(place):
                array = without_cell(array, place)
            case Insert(place, keys):
                array = with_cell(array, place, inline(array, keys, table), end)
            case Move(place, to):
                array = moved_cell(array, place, to, end)
    return cells_text(array)


# ── blocks ───────────────────────────────────────────────────────────────────────────────────────


def _place(blocks: Sequence[Block], heading: tuple[str, ...]) -> int:
    """Where the block of a heading is; -1 where there is none."""
    return next((place for place, one in enumerate(blocks) if one.heading == heading), -1)


def _must_be_there(place: int, heading: str) -> None:
    if place < 0:
        raise NotSoWritten(f"{heading} has no line of its own as a heading")


def _new_block(blocks: list[Block], new: Block, end: str) -> list[Block]:
    """After the last block of the same table; as the last of the file where there is none."""
    alike = [place for place, one in enumerate(blocks) if one.heading[:1] == new.heading[:1]]
    return with_after(blocks, alike[-1], new, end) if alike else with_last(blocks, new, end)


def _with_value(
    blocks: list[Block], place: int, key: str, change: Callable[[str], str]
) -> list[Block]:
    """The blocks with another value of one key."""
    first, rows = rows_of(blocks[place])
    if not any(row.key == key for row in rows):
        raise NotSoWritten(f"{key} has no line of its own")
    now = [row._replace(value=change(row.value)) if row.key == key else row for row in rows]
    return [*blocks[:place], with_rows(blocks[place], first, now), *blocks[place + 1 :]]
