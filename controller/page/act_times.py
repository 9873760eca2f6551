"""Until when a zone is kept quiet, as the choices of the page have it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from controller.building.durations import HOUR, SECOND

if TYPE_CHECKING:
    from controller.building.civil import CivilTime
    from controller.building.kept import Halves

_FOLD_STEP = timedelta(minutes=30)


def in_an_hour(civil: CivilTime, now: int) -> str:
    """The local time an hour after `now` (utc), to the second, as an order has it.

    Where the clock shows that time twice and an order would mean the first, a later one is taken.
    """
    then = (now + HOUR) // SECOND * SECOND
    local = civil.aware(then).replace(tzinfo=None, fold=0)
    while civil.instant(local) < then:
        local += _FOLD_STEP
    return local.isoformat()


def next_half(civil: CivilTime, halves: Halves, now: int) -> tuple[str, str]:
    """The half that begins next: in words, and its beginning as an order has it."""
    today = civil.date_at(now)
    for day in (today, today + timedelta(days=1)):
        for words, at in (("the morning", halves.day), ("tonight", halves.night)):
            begins = datetime.combine(day, at)
            if civil.instant(begins) > now:
                return f"{words}, {at:%H:%M}", begins.isoformat(timespec="minutes")
    raise AssertionError("a day has two halves")
