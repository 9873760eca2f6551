"""A rehearsal as a table for people: day by day, then the missed, the dials and the counts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from controller.building.durations import duration_text
from controller.cli.spoken import columns
from controller.dials.position import face_text, true_position
from controller.engine.reasons import MISSED_WHY
from controller.pictures.changes import clock_changes
from controller.pictures.spoken import (
    clock_text,
    counted,
    counts_text,
    day_text,
    moment_text,
    plan_text,
)
from controller.rehearsal.record import LineEnd
from controller.rehearsal.script import Script
from controller.rehearsal.written import DayCount, Tally
from controller.timetable.days import Timetable

if TYPE_CHECKING:
    from controller.building.model import Building

MOST_MISSED = 200  # listed singly


def table(building: Building, script: Script, tally: Tally) -> Iterator[str]:
    """The lines of the table, 80 columns at most."""
    yield from _days(building, script, tally)
    if tally.missed:
        yield ""
        yield from _missed(building, tally)
    if tally.end.lines:
        yield ""
        yield from _dials(building, script, tally)
    yield ""
    end = tally.end
    given = f"{counted(end.rings, 'sounding')}, {counted(end.impulses, 'impulse')}"
    yield f"{given}, {end.missed} missed."


# ── day by day ───────────────────────────────────────────────────────────────────────────────────


def _days(building: Building, script: Script, tally: Tally) -> Iterator[str]:
    timetable = Timetable(building)
    remarks = _remarks(building, script, tally)
    rows = [("date", "plan", "soundings", "impulses", "missed", "remarks")]
    day = building.civil.date_at(script.start_utc)
    last = max([building.civil.date_at(script.until_utc - 1), *tally.days])
    while day <= last:
        count = tally.days.get(day, DayCount())
        rows.append(
            (
                day_text(day),
                plan_text(building, timetable.day(day)),
                counts_text(count.soundings, building.zones),
                counts_text(count.impulses, building.lines),
                counts_text(count.missed, building.zones),
                "; ".join(remarks.get(day, ())),
            )
        )
        day += timedelta(days=1)
    kept = [index for index in range(6) if any(row[index] for row in rows[1:])]
    yield from columns([[row[index] for index in kept] for row in rows])


def _remarks(building: Building, script: Script, tally: Tally) -> dict[date, list[str]]:
    """What was out of the ordinary, date by date."""
    civil = building.civil
    remarks: dict[date, list[str]] = {}

    def remark(utc: int, words: str) -> None:
        remarks.setdefault(civil.date_at(utc), []).append(words)

    for change in clock_changes(civil, script.start_utc, script.until_utc):
        remark(change.at, change.words)
    for cut in script.cuts:
        length = duration_text(cut.duration_ns)
        remark(cut.start_utc, f"no power from {clock_text(civil, cut.start_utc)} for {length}")
    for step in script.steps:
        sign = "+" if step.by_ns >= 0 else "−"
        by = f"{sign}{duration_text(abs(step.by_ns))}"
        remark(step.at_utc, f"clock stepped by {by} at {clock_text(civil, step.at_utc)}")
    for day, count in tally.days.items():
        noon = civil.instant(datetime.combine(day, time(12)))
        for words, counts, order in (
            ("cut short", count.cut, building.zones),
            ("impulses given again", count.again, building.lines),
        ):
            if text := counts_text(counts, order):
                remark(noon, f"{words}: {text}")
    return remarks


# ── the end ──────────────────────────────────────────────────────────────────────────────────────


def _missed(building: Building, tally: Tally) -> Iterator[str]:
    civil = building.civil
    yield "Missed"
    rows = [(moment_text(civil, m.due), m.zone, MISSED_WHY.get(m.why, m.why)) for m in tally.missed]
    yield from columns(rows, indent=2)
    more = tally.end.missed - len(tally.missed)
    if more > 0:
        yield f"  and {more} more, not listed singly"


def _dials(building: Building, script: Script, tally: Tally) -> Iterator[str]:
    yield f"Dials just before {moment_text(building.civil, tally.end.at)}"
    rows = [
        (
            name,
            building.lines[name].title,
            " | ".join(end.shows),
            _verdict(building, name, end, script),
        )
        for name, end in tally.end.lines.items()
    ]
    yield from columns(rows, indent=2)


def _verdict(building: Building, name: str, end: LineEnd, script: Script) -> str:
    line = building.lines[name]
    if end.right:
        words = "right"
    else:
        true = face_text(line, true_position(line, building.civil, script.until_utc - 1))
        apart = "the dials differ; " if len(end.shows) > 1 else ""
        words = f"{apart}wrong: it is {true}"
    return f"{words}, doubtful" if end.doubtful else words
