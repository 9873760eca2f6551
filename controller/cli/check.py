"""`understudy check`: what a building's file comes to, and what in it nobody may expect."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import date, timedelta
from itertools import groupby, islice
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from controller.building.advice import advice
from controller.building.durations import duration_text
from controller.building.file import read
from controller.building.zone_data import package_version, system_version, zone_data_advice
from controller.cli.local import instant_or_now
from controller.cli.next import rows_of, soundings_by_instant
from controller.cli.spoken import columns, paragraph
from controller.electrics.findings import findings
from controller.pictures.spoken import (
    WEEKDAYS,
    clock_text,
    counted,
    dates_text,
    day_text,
    moment_text,
)
from controller.rehearsal.foreseen import (
    DAYS_AHEAD,
    Finding,
    Foreseen,
    Reread,
    foreseen,
    reread,
    silenced,
)
from controller.timetable.days import Day, Timetable, plan_label
from controller.timetable.holidays import library_version
from controller.timetable.rings import DAY

if TYPE_CHECKING:
    from controller.building.model import Building

_WEEK = 7 * DAY
_NEXT = 5
_MOST_ROWS = 50  # of a section; the rest as a count
_EXAMPLES = 3


def check(path: Path, at: str | None) -> None:
    """Print what the building of `path` comes to. Raises `Faults` where it is refused."""
    building = read(path)
    now = instant_or_now(building.civil, at, "--at")
    timetable = Timetable(building)
    first = building.civil.date_at(now)
    for heading, lines in _sections(building, timetable, now, first):
        listed = list(lines)
        if listed:
            typer.echo(f"{heading}\n" + "\n".join(listed) + "\n")
    typer.echo(_verdict(building, path))


def _sections(
    building: Building, timetable: Timetable, now: int, first: date
) -> Iterator[tuple[str, Iterator[str]]]:
    """Each heading with what is below it; where that is nothing the section is left out."""
    name = building.name or "The building"
    yield name, _circuits(building)
    yield "Zones, and soundings in the coming week", _zones(building, timetable, now)
    yield "Lines of dials", _lines(building)
    yield f"Plans of the coming {DAYS_AHEAD} days", _plans(building, timetable, first)
    yield (
        "Next soundings",
        columns(
            rows_of(building, now, list(islice(soundings_by_instant(timetable, now), _NEXT))),
            indent=2,
        ),
    )
    seen = _looked_ahead(building, timetable, first)
    yield "Cut short, or not rung for a limit of the zone", _limits(building, timetable, seen)
    yield "Waiting for the supply", _waits(building, timetable, seen)
    yield "Never rung, or missed, for want of supply", _unsupplied(building, timetable, seen)
    yield "Moved by a clock change", _reread(building, reread(building, timetable, first))
    yield "Silenced by quiet rows in the coming week", _silenced(building, timetable, now)
    yield "Electrics", (paragraph(f"{one.circuit}: {one.says}") for one in findings(building, None))
    yield "Advice", (paragraph(words) for words in (*advice(building), *_old_data()))


def _verdict(building: Building, path: Path) -> str:
    """The daemon runs a file whose wires are too thin: the rest of the house works. It is said."""
    circuits = list(dict.fromkeys(one.circuit for one in findings(building, None)))
    if not circuits:
        return f"No fault in {path}."
    return paragraph(
        f"No fault in the text of {path}, but not all of it will work: see Electrics, "
        f"{', '.join(circuits)}.",
        "",
    )


# ── what it is ───────────────────────────────────────────────────────────────────────────────────


def _circuits(building: Building) -> Iterator[str]:
    supply = building.supply
    system, package = system_version(), package_version()
    data = system or package or "of unknown version"
    yield f"  local time of {building.civil.key}, zone data {data}"
    if building.holidays is not None:
        where = "-".join(filter(None, (building.holidays.country, building.holidays.subdivision)))
        yield f"  public holidays of {where} by the holidays library {library_version()}"
    words = f"  supply {supply.volts:g} V"
    left = building.bell_amps
    if left is not None:
        words += f", {supply.amps:g} A"
        if building.lines:
            words += f"; the dials leave {left:.3g} A for bells"
    yield words


def _zones(building: Building, timetable: Timetable, now: int) -> Iterator[str]:
    week = Counter(one.zone for one in timetable.soundings(now, now + _WEEK))
    return columns(
        [
            (
                name,
                zone.title,
                _drawn(zone.bells, "bell", zone.amps),
                counted(week[name], "sounding"),
            )
            for name, zone in building.zones.items()
        ],
        indent=2,
    )


def _lines(building: Building) -> Iterator[str]:
    return columns(
        [
            (
                name,
                line.title,
                f"{line.drive}, every {duration_text(line.every_ns)}",
                _drawn(line.dials, "dial", line.amps),
            )
            for name, line in building.lines.items()
        ],
        indent=2,
    )


def _drawn(count: int | None, what: str, amps: float) -> str:
    """ "6 bells, 1.5 A"."""
    things = None if count is None else counted(count, what)
    current = f"{amps:.3g} A" if amps else None
    return ", ".join(part for part in (things, current) if part)


def _plans(building: Building, timetable: Timetable, first: date) -> Iterator[str]:
    days = [timetable.day(first + timedelta(days=number)) for number in range(DAYS_AHEAD)]
    used: dict[tuple[str, str], list[Day]] = {}
    for day in days:
        used.setdefault((plan_label(building, day), day.source), []).append(day)
    yield from _at_most(
        [(label, _whence(source, of), _when(source, of)) for (label, source), of in used.items()]
    )
    named = {day.plan for day in days} | set(building.week.values())
    if unused := [plan for plan in building.plans if plan not in named]:
        yield paragraph(f"Not used in that time: {', '.join(unused)}.")


def _whence(source: str, days: Sequence[Day]) -> str:
    if source == "usual":
        numbers = sorted({day.date.weekday() for day in days})
        return ", ".join(WEEKDAYS[number] for number in numbers)
    return {"calendar": "calendar", "holiday": "public holidays"}.get(source, source)


def _when(source: str, days: Sequence[Day]) -> str:
    if source == "usual":
        return counted(len(days), "day")
    says = f" ({days[0].says})" if days[0].says else ""
    return f"{dates_text([day.date for day in days])}{says}"


# ── what nobody may expect ───────────────────────────────────────────────────────────────────────


def _looked_ahead(building: Building, timetable: Timetable, first: date) -> list[Foreseen]:
    """What the rehearsal finds; a person at a terminal is told what takes so long."""
    if not sys.stderr.isatty():
        return foreseen(building, timetable, first)
    typer.echo(f"Looking {DAYS_AHEAD} days ahead …", err=True, nl=False)
    try:
        return foreseen(building, timetable, first)
    finally:
        typer.echo("\r\x1b[K", err=True, nl=False)  # the line is wiped: ECMA-48, EL


def _limits(building: Building, timetable: Timetable, seen: Sequence[Foreseen]) -> Iterator[str]:
    of_limits = [one for one in seen if one.finding.why != "supply"]
    return _by_plan(building, timetable, of_limits, _limit_words)


def _limit_words(finding: Finding) -> str:
    if finding.what == "cut":
        return f"ends after {duration_text(finding.length)} ({finding.why})"
    return f"is not rung ({finding.why})"


def _waits(building: Building, timetable: Timetable, seen: Sequence[Foreseen]) -> Iterator[str]:
    waiting = [one for one in seen if one.finding.what == "waits"]
    return _by_plan(building, timetable, waiting, lambda one: f"waits {duration_text(one.length)}")


def _unsupplied(
    building: Building, timetable: Timetable, seen: Sequence[Foreseen]
) -> Iterator[str]:
    grace = duration_text(building.clock.grace_ns)
    missed = [one for one in seen if (one.finding.what, one.finding.why) == ("missed", "supply")]
    return _by_plan(building, timetable, missed, lambda _: f"cannot begin within {grace}")


def _by_plan(
    building: Building,
    timetable: Timetable,
    seen: Sequence[Foreseen],
    words: Callable[[Finding], str],
) -> Iterator[str]:
    """What is alike on the same dates below each other, and zones that fare alike in one row."""
    of_dates: dict[tuple[date, ...], dict[tuple[str, str], list[str]]] = {}
    for one in seen:
        row = one.finding.at.isoformat(), words(one.finding)
        of_dates.setdefault(one.dates, {}).setdefault(row, []).append(one.finding.zone)
    rows = 0
    for dates, found in of_dates.items():
        if rows < _MOST_ROWS:
            label = plan_label(building, timetable.day(dates[0]))
            yield f"  {label}: {dates_text(dates)}"
            listed = [(at, ", ".join(zones), what) for (at, what), zones in found.items()]
            yield from columns(listed[: _MOST_ROWS - rows], indent=4)
        rows += len(found)
    if rows > _MOST_ROWS:
        yield f"  and {rows - _MOST_ROWS} more"


def _reread(building: Building, found: Sequence[Reread]) -> Iterator[str]:
    rows = []
    for (local, twice), same in groupby(found, key=lambda one: (one.local, one.twice)):
        rings = [one.ring for one in same]
        zones = ", ".join(ring.zone for ring in rings)
        due = clock_text(building.civil, rings[0].due)
        words = "occurs twice; rings the first time" if twice else f"does not occur; rings at {due}"
        rows.append((day_text(local.date()), local.time().isoformat(), zones, words))
    return _at_most(rows)


def _silenced(building: Building, timetable: Timetable, now: int) -> Iterator[str]:
    rings = list(silenced(building, timetable, now, now + _WEEK))
    rows = []
    for zone, count in Counter(ring.zone for ring in rings).items():
        examples = [
            moment_text(building.civil, ring.due).removesuffix(":00")
            for ring in rings
            if ring.zone == zone
        ]
        words = ", ".join(examples[:_EXAMPLES]) + (", …" if count > _EXAMPLES else "")
        rows.append((zone, counted(count, "ring"), words))
    return _at_most(rows)


def _old_data() -> Iterator[str]:
    words = zone_data_advice(system_version(), package_version())
    if words is not None:
        yield words


def _at_most(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """The first rows in columns, and how many more there are."""
    yield from columns(rows[:_MOST_ROWS], indent=2)
    if len(rows) > _MOST_ROWS:
        yield f"  and {len(rows) - _MOST_ROWS} more"
