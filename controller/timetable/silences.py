"""What falls silent by a change: said first and aloud, for it is seldom what was meant.

Days that lose their last ring, and zones that lose all of theirs. `summary` tells the same among
all else that changes; this is the warning before it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from controller.building.values import WEEKDAYS
from controller.timetable.differences import Difference, last_of_day, last_of_zone

MOST_DAYS = 4  # named singly
MOST_ZONES = 8


def silences(differences: Sequence[Difference], today: date) -> list[str]:
    """A sentence for each day, and each zone, that rings now and would not ring at all.

    `differences` are those from now on; `today` is the local date now. "Tomorrow, Tue 1 December:
    nothing would ring (27 rings now)". Of today it is what is still to come.
    """
    return [*_silent_days(differences, today), *_silent_zones(differences)]


def _silent_days(differences: Sequence[Difference], today: date) -> Iterator[str]:
    gone = Counter(date.fromisoformat(one.written[:10]) for one in differences if last_of_day(one))
    days = sorted(gone)
    for day in days[:MOST_DAYS]:
        what = "nothing more" if day == today else "nothing"
        yield f"{_day_words(day, today)}: {what} would ring ({_rings(gone[day])} now)"
    if more := days[MOST_DAYS:]:
        rings = sum(gone[day] for day in more)
        count = "1 more day" if len(more) == 1 else f"{len(more)} more days"
        last = _day_words(more[-1], today)
        yield f"{count}, the last {last}: nothing would ring ({_rings(rings)} now)"


def _silent_zones(differences: Sequence[Difference]) -> Iterator[str]:
    """Zones that lose rings on days, too, on which others go on ringing."""
    gone = Counter(one.zone for one in differences if last_of_zone(one))
    partly = {one.zone for one in differences if last_of_zone(one) and not last_of_day(one)}
    zones = [zone for zone in gone if zone in partly]
    for zone in zones[:MOST_ZONES]:
        yield f"Zone {zone}: nothing would ring on any of these days ({_rings(gone[zone])} now)"
    if more := zones[MOST_ZONES:]:
        rings = sum(gone[zone] for zone in more)
        count = "1 more zone" if len(more) == 1 else f"{len(more)} more zones"
        yield f"{count}: nothing would ring on any of these days ({_rings(rings)} now)"


def _rings(number: int) -> str:
    return "1 ring" if number == 1 else f"{number} rings"


def _day_words(day: date, today: date) -> str:
    """ "Tomorrow, Tue 1 December", "Thu 3 December"."""
    words = f"{WEEKDAYS[day.weekday()].capitalize()} {day.day} {day:%B}"
    near = {today: "Today, ", today + timedelta(days=1): "Tomorrow, "}
    return near.get(day, "") + words
