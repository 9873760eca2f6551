"""`understudy tape fold` and `tape unfold`: plans become a tape, and a tape plans."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import time as time_of_day
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from controller.building.durations import duration_text
from controller.building.file import read
from controller.building.kept import Tape
from controller.building.values import NO_RINGS, time_at
from controller.cli.edits import settle, texts_of
from controller.cli.given import read_keys
from controller.cli.guard import NotDone
from controller.cli.spoken import columns, paragraph
from controller.editing.tape_changes import clock_text, fold_change, grown, unfold_change
from controller.editing.tape_fold import LENGTHS_NS, Hindrance, NoTape, fold
from controller.editing.tape_unfold import unfold
from controller.pictures.spoken import counted
from controller.timetable.differences import weekdays_words

if TYPE_CHECKING:
    from controller.editing.tape_fold import Folded
    from controller.editing.tape_unfold import TapePlan, Unfolded


def fold_week(
    path: Path, length: str | None, starts: str | None, runtime: Path | None, *, yes: bool
) -> int:
    """Show the tape that rings what the week rings, ask, and have it written; the exit code.

    Raises `NotDone` where there is none, after saying why, and what `settle` raises.
    """
    texts = texts_of(path)
    building = read(path)
    if not building.week:
        raise NotDone("The week has no plans: there is nothing to fold.")
    keys = {"length": length or "24h", "starts": starts or "00:00", "for": "1s", "holes": {}}
    asked = read_keys(Tape, keys)
    lengths_ns = LENGTHS_NS if length is None else (asked.length_ns,)
    today = building.civil.date_at(time.time_ns())
    try:
        folded = fold(building, today, lengths_ns, None if starts is None else asked.starts)
    except NoTape as none:
        for line in _hindrances_shown(none.hindrances):
            typer.echo(line)
        reasons = counted(len(none.hindrances), "reason")
        raise NotDone(
            f"No tape of {duration_text(lengths_ns[-1])} rings what the week rings, for {reasons}; "
            "see above. Nothing was changed."
        ) from None
    for line in (*holes_shown(folded.tape), *_rest_of_fold(folded, dict(grown(building, folded)))):
        typer.echo(line)
    typer.echo("")
    return settle(path, runtime, texts, fold_change(texts, building, folded), yes=yes)


def unfold_tape(path: Path, runtime: Path | None, *, yes: bool) -> int:
    """Show the plans that ring what the tape rings, ask, and have them written; the exit code.

    Raises `NotDone` where there is no tape, and what `settle` raises.
    """
    texts = texts_of(path)
    building = read(path)
    if building.tape is None:
        raise NotDone("The file has no tape: there is nothing to unfold.")
    unfolded = unfold(building, building.civil.date_at(time.time_ns()))
    change = unfold_change(texts, building, unfolded)
    for line in _plans_shown(unfolded):
        typer.echo(line)
    typer.echo("")
    return settle(path, runtime, texts, change, yes=yes)


# ── what is shown ────────────────────────────────────────────────────────────────────────────────


def holes_shown(tape: Tape) -> Iterator[str]:
    """A tape as it would be in the file."""
    at = clock_text(tape.starts)
    yield (
        f"The tape: {duration_text(tape.length_ns)}, its mark under the fingers at {at}; a hole "
        f"rings {duration_text(tape.for_ns)}"
    )
    yield from columns(
        [
            (zone, counted(len(offsets), "hole"), _times([time_at(one) for one in offsets]))
            for zone, offsets in tape.holes.items()
        ],
        indent=2,
    )


def _rest_of_fold(folded: Folded, more: Mapping[str, Sequence[str]]) -> Iterator[str]:
    if more:
        yield "Quiet rows that come beside those that there are:"
        yield from columns([(zone, ", ".join(rows)) for zone, rows in more.items()], indent=2)
        yield from _note(
            "They also silence the plans that orders, and calendar entries to come, bring there."
        )
    if folded.texts:
        told = ", ".join(f'"{says}"' for says in folded.texts)
        yield from _note(f"Holes carry no text. No longer told when they ring: {told}.")
    yield from _note("Plans stay in the file; the week names none of them any more.")


def _plans_shown(unfolded: Unfolded) -> Iterator[str]:
    days: dict[str, list[int]] = defaultdict(list)
    for number, plan in unfolded.week.items():
        days[plan].append(number)
    yield "The week:"
    rows = []
    for plan, numbers in days.items():
        new = plan in unfolded.plans
        rings = _added(unfolded.plans[plan]) if new else "as it is"
        rows.append((_weekdays(numbers), plan, rings))
    yield from columns(rows, indent=2)
    if unfolded.never_heard:
        yield "Holes that quiet rows never let ring, and that are lost; their clock times:"
        rows = [(zone, _times(times), "") for zone, times in unfolded.never_heard.items()]
        yield from columns(rows, indent=2)
    yield from _note("Quiet rows stay as they are. The tape goes, with the comments within it.")


def _added(plan: TapePlan) -> str:
    rings = f"{counted(len(plan.rings), 'ring')} of the tape"
    return rings if plan.like == NO_RINGS else f"{plan.like}, and {rings}"


def _hindrances_shown(hindrances: Sequence[Hindrance]) -> Iterator[str]:
    yield "Ring by ring, why not:"
    yield from columns(
        [(clock_text(one.at), one.zone, _weekdays(one.weekdays), one.why) for one in hindrances],
        indent=2,
    )


def _weekdays(numbers: Sequence[int]) -> str:
    return weekdays_words([number - 1 for number in numbers])


def _times(times: Sequence[time_of_day]) -> str:
    return ", ".join(map(clock_text, times))


def _note(text: str) -> Iterator[str]:
    yield paragraph(text, "")
