"""A tape that was read, folded or unfolded, as a change of the text that a person wrote. Pure.

What goes into several tables is done table by table, each with its own edit, in one file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import time
from functools import partial
from typing import Any

import tomli

from controller.building.durations import duration_text
from controller.building.kept import PlanRing, Tape
from controller.building.model import Building
from controller.building.values import NO_RINGS, WEEKDAYS, half_days_written, time_at
from controller.editing.document import (
    Change,
    PunchedTape,
    Texts,
    table_file,
    with_plan,
    with_plan_like,
    with_quiet,
    with_tape,
    with_week,
)
from controller.editing.entry_changes import Added
from controller.editing.keeper_file import EditRefused
from controller.editing.tape_fold import Folded
from controller.editing.tape_unfold import Unfolded

_Edit = Callable[[Texts], Change]


def punched(tape: Tape) -> PunchedTape:
    """The tape in the words of the file."""
    return PunchedTape(
        duration_text(tape.length_ns),
        clock_text(tape.starts),
        duration_text(tape.for_ns),
        {
            zone: [clock_text(time_at(offset)) for offset in offsets]
            for zone, offsets in tape.holes.items()
        },
    )


def fold_change(texts: Texts, building: Building, folded: Folded) -> Change:
    """The tape and the quiet rows, and a week without plans. Raises `EditRefused`."""
    written = tomli.loads(texts[table_file(texts, "quiet")].lstrip("\ufeff")).get("quiet", {})
    rows = {zone: [*written.get(zone, ()), *more] for zone, more in grown(building, folded)}
    return _in_one_file(
        texts,
        [
            partial(with_tape, tape=punched(folded.tape)),
            partial(with_quiet, rows=rows),
            partial(with_week, days=dict.fromkeys(WEEKDAYS)),
        ],
    )


def unfold_change(texts: Texts, building: Building, unfolded: Unfolded) -> Change:
    """The plans and the week, and no tape. Raises `EditRefused`."""
    plans: list[_Edit] = []
    for name, plan in unfolded.plans.items():
        if name in building.plans:  # from an earlier unfolding, with the same rings
            continue
        if plan.like != NO_RINGS:
            plans.append(partial(with_plan_like, plan=name, other=plan.like))
        added = [Added(_keys(ring)) for ring in plan.rings]
        plans.append(partial(with_plan, plan=name, changes=added))
    week = {day: unfolded.week.get(number) for number, day in enumerate(WEEKDAYS, 1)}
    return _in_one_file(
        texts, [partial(with_tape, tape=None), *plans, partial(with_week, days=week)]
    )


def grown(building: Building, folded: Folded) -> Iterator[tuple[str, list[str]]]:
    """Each zone with a quiet row that grows, and by which half-days, as the file has them."""
    for zone, row in folded.quiet.items():
        yield zone, list(half_days_written(row - building.quiet.get(zone, frozenset())))


def _keys(ring: PlanRing) -> dict[str, Any]:
    """A ring of the tape with its keys as the file has them.

    Its zones are named one by one: a zone that comes to the building later has no holes.
    """
    assert ring.for_ns is not None, "a hole closes once"
    length = duration_text(ring.for_ns)
    return {"at": clock_text(ring.at), "zones": list(ring.zones), "for": length}


def clock_text(at: time) -> str:
    """ "08:30"; "08:30:20" where it is no whole minute."""
    return at.isoformat("seconds" if at.second else "minutes")


def _in_one_file(texts: Texts, edits: Iterable[_Edit]) -> Change:
    """Several edits, one after the other, of one file. Raises `EditRefused` where it is more."""
    now = dict(texts)
    for edit in edits:
        change = edit(now)
        now[change.file] = change.text
    changed = [file for file, text in now.items() if text != texts[file]]
    if len(changed) > 1:
        raise EditRefused(
            f"This changes {' and '.join(changed)}, and an edit changes one file. Put [week], "
            "[quiet], [tape] and the plans into one of them first, in an editor."
        )
    file = changed[0] if changed else table_file(texts, "tape")
    return Change(file, now[file])
