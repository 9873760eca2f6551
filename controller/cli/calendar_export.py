"""`understudy calendar export`: the coming soundings, or days, as a calendar file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta
from itertools import islice
from pathlib import Path
from time import time_ns
from typing import TYPE_CHECKING, Literal, NamedTuple

import typer

from controller.building.file import read
from controller.cli import local
from controller.cli.guard import NotDone
from controller.cli.next import soundings_by_instant, where_and_how
from controller.editing.calendar_out import Moment, WholeDay, calendar_bytes
from controller.pictures.spoken import clock_text, counted, moment_text, plan_text
from controller.timetable.days import Day, Timetable
from controller.timetable.rings import DAY, joined
from controller.timetable.soundings import Sounding

if TYPE_CHECKING:
    from controller.building.model import Building

MOST_EVENTS = 20_000
_DAYS_AHEAD = {"sounding": 28, "day": 400}


class Asked(NamedTuple):
    """The arguments, as they were written."""

    start: str | None
    until: str | None
    each: Literal["sounding", "day"]


def export_calendar(path: Path, asked: Asked, out: Path | None) -> None:
    """Write the calendar file of the building of `path`. Raises `NotDone` where it is too long."""
    building = read(path)
    start, until = _window(building, asked)
    entries: list[Moment | WholeDay] = list(
        islice(_entries(building, asked.each, start, until), MOST_EVENTS + 1)
    )
    if len(entries) > MOST_EVENTS:
        raise NotDone(
            f"From {moment_text(building.civil, start)} to {moment_text(building.civil, until)} "
            f"are more than {MOST_EVENTS:,} events, and few calendar programs take so many. "
            "Give a nearer --until, or --each day."
        )
    content = calendar_bytes(building.name, entries, time_ns())
    if out is None:
        stream = typer.get_binary_stream("stdout")
        stream.write(content)
        stream.flush()
        return
    out.write_bytes(content)
    typer.echo(f"{out}: {counted(len(entries), 'event')}, {len(content):,} bytes.")


def _window(building: Building, asked: Asked) -> tuple[int, int]:
    civil = building.civil
    start = local.instant_or_now(civil, asked.start, "--from")
    if asked.until is None:
        return start, start + _DAYS_AHEAD[asked.each] * DAY
    until = local.instant(civil, asked.until, "--until")
    if until <= start:
        begin = "now" if asked.start is None else f"--from {asked.start!r}"
        raise typer.BadParameter(f"{asked.until!r} is not after {begin}", param_hint="--until")
    if until - start > local.LONGEST_NS:
        raise typer.BadParameter(
            f"{asked.until!r}: expected at most 20 years after --from", param_hint="--until"
        )
    return start, until


def _entries(
    building: Building, each: Literal["sounding", "day"], start: int, until: int
) -> Iterator[Moment | WholeDay]:
    timetable = Timetable(building)
    if each == "sounding":
        return map(_moment, _given(timetable, start, until))
    first, last = building.civil.date_at(start), building.civil.date_at(until - 1)
    dates = (first + timedelta(number) for number in range((last - first).days + 1))
    days = map(timetable.day, dates)
    return (_whole_day(building, timetable, day) for day in days if day.exists)


def _given(timetable: Timetable, start: int, until: int) -> Iterator[list[Sounding]]:
    """What sounds in [start, until), those of one instant together."""
    for together in soundings_by_instant(timetable, start, until):
        given = [one for one in together if one.closings]  # a limit may leave nothing of one
        if given:
            yield given


def _moment(together: Sequence[Sounding]) -> Moment:
    zones = [one.zone for one in together]
    says = joined(ring.says for one in together for ring in one.rings)
    return Moment(
        together[0].start,
        max(one.closings[-1][1] for one in together),
        f"{says} ({', '.join(zones)})" if says else ", ".join(zones),
        where_and_how(together),
        zones,
    )


def _whole_day(building: Building, timetable: Timetable, day: Day) -> WholeDay:
    """A date with its plan and all its rings, whatever the time is."""
    civil = building.civil
    midnight = datetime.combine(day.date, time())
    start, end = civil.instant(midnight), civil.instant(midnight + timedelta(1))
    lines = []
    for together in _given(timetable, start, end):
        says = joined(ring.says for one in together for ring in one.rings)
        at = clock_text(civil, together[0].start).removesuffix(":00")
        line = f"{at} {where_and_how(together)}"
        lines.append(f"{line}: {says}" if says else line)
    return WholeDay(day.date, plan_text(building, day), "\n".join(lines), [day.plan])
