"""How a plan is told from others at a glance: a letter, and a fill of its own.

A letter is one of the plan's own name where it can be. A day that has the tape beside its plan has
"+" behind the letter; "+" alone is the tape alone, "–" is a day without rings, "×" no date at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from string import ascii_uppercase
from typing import TYPE_CHECKING, NamedTuple

from controller.building.values import NO_RINGS, USUAL

if TYPE_CHECKING:
    from controller.building.model import Building
    from controller.timetable.days import Day, Timetable

NO_DATE = "×"
NOTHING = "–"
TAPE = "+"


class Sign(NamedTuple):
    """What stands for a date's plan."""

    letter: str
    place: int | None  # of the plan in the file: each has a fill of its own; None without a plan
    tape: bool


def letters_of(plans: Iterable[str]) -> dict[str, str]:
    """A letter for each plan, all different; a number after it beyond 26 plans.

    The first letter of the name that is free, in the order of the file: a plan that is added at the
    file's end changes no other's letter.
    """
    found: dict[str, str] = {}
    for number, plan in enumerate(plans):
        taken = set(found.values())
        wished = (
            *(letter for letter in plan.upper() if letter in ascii_uppercase),
            *ascii_uppercase,
        )
        found[plan] = next((one for one in wished if one not in taken), f"{wished[0]}{number}")
    return found


class Signs:
    """The signs of a building's plans."""

    def __init__(self, building: Building) -> None:
        self._building = building
        self._letters = letters_of(building.plans)
        self._places = {plan: place for place, plan in enumerate(building.plans)}

    def of(self, day: Day) -> Sign:
        """The sign of a date."""
        if not day.exists:
            return Sign(NO_DATE, None, False)
        usual = day.plan == USUAL
        plan = self._building.week.get(day.date.isoweekday(), NO_RINGS) if usual else day.plan
        tape = usual and self._building.tape is not None
        letter = self._letters.get(plan, "")
        return Sign(letter + TAPE * tape or NOTHING, self._places.get(plan), tape)


def why_text(day: Day) -> str:
    """What decided a date that departs from the usual: "Winter break", "public holiday: …"."""
    if day.source == "holiday":
        return f"public holiday: {day.says}"
    if day.source == "order":
        return "by order"
    return day.says or "calendar"


def lost_orders(timetable: Timetable, first: date, end: date) -> Iterator[str]:
    """A sentence for each order of the dates [first, end) whose plan the file no longer has."""
    for on, plan in timetable.lost_orders.items():
        if first <= on < end:
            yield f"{on}: the order to follow {plan} is not heeded, for the file has no such plan."
