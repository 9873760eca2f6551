"""A drawn week as a table: for each day its plan and why, then each moment at which bells ring."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from controller.pictures.week import DayHead, Week, clock, cut_words, how_long
from controller.timetable.differences import date_words


class Moment(NamedTuple):
    """What rings, or is kept quiet, and in which zones. What has no text is told once for the day.

    So the rounds of a porter are one line, and not forty-eight.
    """

    times: tuple[str, ...]  # ("08:30",)
    zones: tuple[str, ...]  # in the file's order
    how: str  # "5 s", "3 strokes", "cut short after 10 s (longest)"
    says: str
    quiet: str  # the quiet row's half-day that silences it, "sat night"; "" where it rings


class DayTable(NamedTuple):
    """One day of the table."""

    key: str  # for a link to it, "mon"
    day: str  # "Mon 23 Nov"
    plan: str
    why: str  # of a day that departs from the usual, and what the clock does; "" where nothing
    departs: bool
    moments: tuple[Moment, ...]  # by their first times
    as_on: str  # an earlier day of the week with the very same moments; "" where there is none


def week_table(week: Week) -> list[DayTable]:
    """The seven days, Monday first."""
    found: list[DayTable] = []
    for number, head in enumerate(week.days):
        moments = tuple(_moments(week, number))
        alike = (day.day for day in found if moments and day.moments == moments)
        found.append(
            DayTable(
                f"{head.date:%a}".lower(),
                date_words(head.date),
                head.plan,
                "; ".join(_why(head)),
                head.departs or not head.exists,
                moments,
                next(alike, ""),
            )
        )
    return found


def _why(head: DayHead) -> Iterator[str]:
    if head.why:
        yield head.why
    if head.exists:
        yield from (change.words for change in head.changes)


def _moments(week: Week, number: int) -> Iterator[Moment]:
    """Zones that ring alike at the same instant are one moment."""
    zones: dict[tuple[int, str, str, str], list[str]] = {}
    times: dict[int, str] = {}
    for lane in week.lanes:
        for mark in lane.rows[number].marks:
            how = cut_words(mark) if mark.cut else how_long(mark)
            zones.setdefault((mark.due, how, mark.says, mark.quiet), []).append(lane.zone)
            times[mark.due] = clock(mark.at)
    found: list[Moment] = []
    routine: dict[Moment, int] = {}  # without its times → its place
    for (due, how, says, quiet), where in sorted(zones.items(), key=lambda one: one[0][0]):
        alike = Moment((), tuple(where), how, says, quiet)
        place = None if says else routine.setdefault(alike, len(found))
        if place is None or place == len(found):
            found.append(alike._replace(times=(times[due],)))
        else:
            found[place] = alike._replace(times=(*found[place].times, times[due]))
    yield from found
