"""A rehearsal in a process of its own, which gives way to everything else on the machine.

    python -m controller.page.rehearsal_process

Told on standard input, in one JSON object, the building's files and the script; says on standard
output, in another, what came of it. It ends by itself when its time is up.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
from datetime import timedelta
from typing import Any

from controller.building.model import Building
from controller.engine.reasons import MISSED_WHY
from controller.page.building_texts import building_of_texts
from controller.pictures.dials import Dials
from controller.pictures.dials_svg import dials_svg
from controller.rehearsal.drawn import drawn
from controller.rehearsal.script import Cut, Script, Step
from controller.rehearsal.world import World
from controller.rehearsal.written import DayCount, Tally, tally
from controller.timetable.days import Timetable, plan_label
from controller.timetable.differences import date_words

MOST_SECONDS = 300
MOST_MISSED = 200  # told singly


def main() -> None:
    """Rehearse what standard input says."""
    _give_way()
    asked = json.load(sys.stdin)
    building = building_of_texts(asked["path"], asked["files"])
    json.dump(_rehearsed(building, script_of_plain(asked["script"])), sys.stdout)


def plain_of_script(script: Script) -> dict[str, Any]:
    """A script for JSON."""
    return {
        "start": script.start_utc,
        "until": script.until_utc,
        "cuts": [list(cut) for cut in script.cuts],
        "steps": [list(step) for step in script.steps],
    }


def script_of_plain(plain: dict[str, Any]) -> Script:
    """The script of `plain_of_script`."""
    cuts, steps = (Cut(*cut) for cut in plain["cuts"]), (Step(*step) for step in plain["steps"])
    return Script(plain["start"], plain["until"], cuts=tuple(cuts), steps=tuple(steps))


def _give_way() -> None:
    """Run only where nobody else wants to, and not for ever: the bells come first."""
    signal.alarm(MOST_SECONDS)
    with contextlib.suppress(OSError):  # a sandbox may forbid it
        os.nice(19)
    with contextlib.suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))


def _rehearsed(building: Building, script: Script) -> dict[str, Any]:
    pictures: list[str] = []

    def draw(dials: Dials) -> None:
        if dials.lines:
            pictures.append(dials_svg(dials))

    world = World(building, script)
    found = tally(
        drawn(building, script, world, world.records(), draw), building.civil, MOST_MISSED
    )
    end = found.end
    return {
        "rings": end.rings,
        "impulses": end.impulses,
        "missed": end.missed,
        "days": _days(building, script, found),
        "misses": _misses(building, found),
        "lines": [
            {
                "line": name,
                "title": building.lines[name].title,
                "shows": " | ".join(its.shows),
                "right": its.right,
                "doubtful": its.doubtful,
            }
            for name, its in end.lines.items()
        ],
        "picture": pictures[0] if pictures else "",
    }


def _days(building: Building, script: Script, found: Tally) -> list[dict[str, Any]]:
    timetable, days = Timetable(building), []
    day = building.civil.date_at(script.start_utc)
    last = max([building.civil.date_at(script.until_utc - 1), *found.days])
    while day <= last:
        count = found.days.get(day, DayCount())
        days.append(
            {
                "day": date_words(day),
                "plan": plan_label(building, timetable.day(day)),
                "rang": {zone: count.soundings[zone] for zone in building.zones},
                "cut": count.cut.total(),
                "missed": count.missed.total(),
                "impulses": count.impulses.total(),
            }
        )
        day += timedelta(days=1)
    return days


def _misses(building: Building, found: Tally) -> list[dict[str, str]]:
    misses = []
    for one in found.missed:
        due = building.civil.aware(one.due)
        when = f"{date_words(due.date())} {due:%H:%M:%S}"
        misses.append({"due": when, "zone": one.zone, "why": MISSED_WHY.get(one.why, one.why)})
    return misses


if __name__ == "__main__":
    main()
