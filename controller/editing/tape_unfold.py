"""A tape with quiet rows as plans and a week. Pure; the way back is in tape_fold.py.

The rings stay the same, on every date from `since` on. A weekday's new plan has the rings of the
plan that it had, as they are, and those of the tape that its quiet rows let sound. What they keep
silent is left out, so that a plan reads as it rings. But where the calendar brings the usual back
and lifts quiet rows on a date of that weekday, all holes are in its plan: on that date all ring.

Quiet rows stay as they are, though the tape needs them no more: they also act on the plans that
calendar, holidays and orders name, and those are to ring as before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, time
from itertools import chain, count
from typing import NamedTuple

from controller.building.kept import PlanRing
from controller.building.model import Building
from controller.building.values import NO_RINGS, USUAL, WEEKDAYS, time_at
from controller.editing.tape_fold import dates_of_calendar, heard
from controller.timetable.rings import Entry, usual_entries

_Rings = tuple[PlanRing, ...]


class TapePlan(NamedTuple):
    """A plan with the rings of another beside its own, which are the tape's."""

    like: str  # the other; "none" where there is none
    rings: _Rings

    def whole(self, building: Building) -> _Rings:
        """All its rings, by time."""
        others = building.plans.get(self.like, ())
        return tuple(sorted((*others, *self.rings), key=lambda ring: ring.at))


class Unfolded(NamedTuple):
    """Plans and a week that ring what week and tape rang; there is no tape then."""

    plans: Mapping[str, TapePlan]  # those that the week needs; the file may have one already
    week: Mapping[int, str]  # the whole week, by ISO weekday
    never_heard: Mapping[str, tuple[time, ...]]  # by zone: what no quiet row ever let ring


def unfold(building: Building, since: date) -> Unfolded:
    """The building's tape as plans; see the head of this module. It has a tape."""
    assert building.tape is not None, "the caller has seen that there is one"
    lifted = {
        on.isoweekday()
        for entry, on in dates_of_calendar(building, since)
        if entry.plan == USUAL and entry.lift_quiet
    }
    tape_alone = replace(building, week={})
    holes = set[tuple[str, int]]()
    rung = set[tuple[str, int]]()
    alike: dict[tuple[str, _Rings], list[int]] = defaultdict(list)
    for weekday in range(1, 8):
        whole = usual_entries(tape_alone, weekday)
        entries = whole if weekday in lifted else heard(tape_alone, weekday)
        holes |= {(entry.zone, entry.at) for entry in whole}
        rung |= {(entry.zone, entry.at) for entry in entries}
        plan = building.week.get(weekday, NO_RINGS)
        alike[plan, _together(building, entries)].append(weekday)
    plans: dict[str, TapePlan] = {}
    week: dict[int, str] = {}
    for (plan, of_tape), weekdays in alike.items():
        if of_tape:
            new = TapePlan(plan, of_tape)
            plan = _name(building, weekdays[0], new)
            plans[plan] = new
        if plan != NO_RINGS:
            week |= dict.fromkeys(weekdays, plan)
    silent: dict[str, tuple[time, ...]] = {}
    for zone, at in sorted(holes - rung):
        silent[zone] = (*silent.get(zone, ()), time_at(at))
    return Unfolded(plans, dict(sorted(week.items())), silent)


def _together(building: Building, entries: list[Entry] | tuple[Entry, ...]) -> _Rings:
    """The tape's rings; zones that ring at the same time are in one."""
    assert building.tape is not None, "these are its entries"
    zones: dict[int, list[str]] = defaultdict(list)
    for entry in entries:
        zones[entry.at].append(entry.zone)
    return tuple(
        PlanRing.model_construct(
            at=time_at(at),
            zones=tuple(alike),
            for_ns=building.tape.for_ns,
            strokes_ns=None,
            says="",
        )
        for at, alike in sorted(zones.items())
    )


def _name(building: Building, weekday: int, plan: TapePlan) -> str:
    """ "tape-mon", by the first of its weekdays; with a number where another plan is called so."""
    name = f"tape-{WEEKDAYS[weekday - 1]}"
    rings = plan.whole(building)
    numbered = chain([name], (f"{name}-{number}" for number in count(2)))
    return next(one for one in numbered if building.plans.get(one, rings) == rings)
