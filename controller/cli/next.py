"""`understudy next`: the coming soundings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby, islice
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from controller.building.file import read
from controller.cli.local import instant_or_now
from controller.cli.spoken import columns, paragraph
from controller.pictures.spoken import counts_text, how_rung, in_how_long, moment_text
from controller.rehearsal.foreseen import DAYS_AHEAD, silenced
from controller.timetable.days import Timetable
from controller.timetable.rings import DAY, joined
from controller.timetable.soundings import Sounding

if TYPE_CHECKING:
    from controller.building.model import Building

_STRIDE = 7 * DAY


def coming(path: Path, at: str | None, number: int) -> None:
    """Print the coming soundings from `at` on, `number` instants of them."""
    building = read(path)
    now = instant_or_now(building.civil, at, "--at")
    timetable = Timetable(building)
    found = list(islice(soundings_by_instant(timetable, now), number))
    if not found:
        typer.echo(f"No sounding within {DAYS_AHEAD} days of {moment_text(building.civil, now)}.")
    for line in columns(rows_of(building, now, found)):
        typer.echo(line)
    # Where the list is full it ends with its last sounding; what is silenced later is not asked.
    until = found[-1][0].start + 1 if len(found) == number else now + DAYS_AHEAD * DAY
    quiet = list(silenced(building, timetable, now, until))
    if quiet:
        first = moment_text(building.civil, quiet[0].due)
        counts = counts_text(Counter(ring.zone for ring in quiet), building.zones)
        typer.echo(paragraph(f"Silenced by quiet rows meanwhile: {counts}; first {first}.", ""))


def soundings_by_instant(
    timetable: Timetable, start_utc: int, end_utc: int | None = None
) -> Iterator[list[Sounding]]:
    """The soundings that begin in [start, end), those of one instant together; 400 days on where
    no end is given.
    """
    if end_utc is None:
        end_utc = start_utc + DAYS_AHEAD * DAY
    for begin in range(start_utc, end_utc, _STRIDE):
        soundings = timetable.soundings(begin, min(begin + _STRIDE, end_utc))
        for _, together in groupby(soundings, key=lambda one: one.start):
            yield list(together)


def rows_of(
    building: Building, now: int, found: Sequence[Sequence[Sounding]]
) -> list[tuple[str, str, str, str]]:
    """When, in how long, where and how, what for."""
    return [
        (
            moment_text(building.civil, together[0].start),
            in_how_long(together[0].start - now),
            where_and_how(together),
            joined(ring.says for one in together for ring in one.rings),
        )
        for together in found
    ]


def where_and_how(together: Sequence[Sounding]) -> str:
    """ "north, south 5s; gong 3 strokes": zones that sound alike are said together."""
    alike: dict[str, list[str]] = {}
    for one in together:
        how = how_rung(one.closings) + (f", cut short ({one.cut[1]})" if one.cut else "")
        alike.setdefault(how, []).append(one.zone)
    return "; ".join(f"{', '.join(zones)} {how}" for how, zones in alike.items())
