"""A demo building's year of soundings, read a second time without a line of the program's own.

The file is read by `tomllib`; dates and times come from recurrence rules (RFC 5545,
python-dateutil), local times become instants by dateutil's own reading and its own zone data,
holidays come from the holidays library. Rehearsed and read must be the same, sounding for sounding.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import holidays
import pytest
from dateutil import rrule, tz
from dateutil.zoneinfo import get_zonefile_instance

from controller.building.civil import utc_ns
from controller.building.file import read
from controller.rehearsal.record import EndRecord, MissedRecord, RingRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse

CONFIG = Path(__file__).parents[2] / "config"
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIRST, LAST = date(2026, 9, 1), date(2027, 8, 31)
Sounding = tuple[int, str, float]  # due (ns), zone, seconds


def whole_file(path: Path) -> dict:
    tables: dict = {}
    for file in sorted(path.glob("*.toml")) if path.is_dir() else [path]:
        tables |= tomllib.loads(file.read_text(encoding="utf-8"))
    return tables


def seconds_of(text: str) -> float:
    number, unit = re.fullmatch(r"([0-9.]+)(ms|s|m|h)", text).groups()
    return float(number) * {"ms": 0.001, "s": 1, "m": 60, "h": 3600}[unit]


def time_of(written: str | time) -> time:
    return written if isinstance(written, time) else time.fromisoformat(written)


def date_of(written: str | date) -> date:
    return written if isinstance(written, date) else date.fromisoformat(written)


class Reading:
    """The keeper's tables, read by hand."""

    def __init__(self, tables: dict) -> None:
        self.tables = tables
        self.zones = list(tables["zones"])
        self.place = get_zonefile_instance().get(tables["building"]["timezone"])
        halves = tables.get("halves", {})
        self.day = time_of(halves.get("day", "06:00"))
        self.night = time_of(halves.get("night", "18:00"))
        self.public = {}
        if "holidays" in tables:
            its = tables["holidays"]
            self.public = holidays.country_holidays(
                its["country"], subdiv=its.get("subdivision"), years=range(2025, 2029)
            )

    def plan_of(self, on: date) -> tuple[str, bool]:
        """(plan, whether quiet rows are lifted)."""
        found = None
        for entry in self.tables.get("calendar", ()):
            if "on" in entry:
                if date_of(entry["on"]) == on:
                    found = entry
            elif date_of(entry["from"]) <= on <= date_of(entry["until"]) and (
                found is None or "on" not in found
            ):
                found = entry
        if found is not None:
            return found["plan"], found.get("lift_quiet", False)
        if on in self.public:
            return self.tables["holidays"].get("plan", "none"), False
        return "usual", False

    def quiet(self, zone: str, local: datetime) -> bool:
        rows = self.tables.get("quiet", {}).get(zone, ())
        if self.day <= local.time() < self.night:
            part, weekday = "day", local.weekday()
        else:
            part, weekday = "night", local.weekday() - (local.time() < self.day)
        return DAYS[weekday] in rows or f"{DAYS[weekday]} {part}" in rows

    def written(self, plan: str) -> Iterator[tuple[time, list[str], list[float]]]:
        for ring in () if plan == "none" else self.tables["plans"][plan]["rings"]:
            zones = self.zones if "*" in ring["zones"] else ring["zones"]
            strokes = ring.get("strokes") or [seconds_of(ring["for"])]
            yield time_of(ring["at"]), zones, strokes

    def tape(self) -> Iterator[tuple[time, list[str], list[float]]]:
        its = self.tables.get("tape")
        if its is None:
            return
        turn = round(seconds_of(its["length"]) / 3600)
        starts = time_of(its.get("starts", "00:00"))
        for zone, offsets in its["holes"].items():
            for offset in offsets:
                hours, minutes = (int(part) for part in offset.split(":"))
                mark = datetime(2026, 1, 1) + timedelta(hours=starts.hour, minutes=starts.minute)
                first = (mark + timedelta(hours=hours, minutes=minutes)).time()
                for at in rrule.rrule(
                    rrule.HOURLY,
                    interval=turn,
                    count=24 // turn,
                    dtstart=datetime.combine(date(2026, 1, 1), first),
                ):
                    yield at.time(), [zone], [seconds_of(its["for"])]

    def dates(self) -> dict[str, rrule.rruleset]:
        """For every plan the set of its dates; "tape" has those of the tape."""
        start, until = (datetime.combine(day, time.min) for day in (FIRST, LAST))
        names = {*self.tables.get("plans", ()), "none", "tape"}
        sets = {name: rrule.rruleset() for name in names}
        sets["tape"].rrule(rrule.rrule(rrule.DAILY, dtstart=start, until=until))
        for weekday, plan in self.tables.get("week", {}).items():
            day = rrule.weekdays[DAYS.index(weekday)]
            rule = rrule.rrule(rrule.WEEKLY, byweekday=day, dtstart=start, until=until)
            sets[plan].rrule(rule)
        for moment in rrule.rrule(rrule.DAILY, dtstart=start, until=until):
            plan, _ = self.plan_of(moment.date())
            if plan != "usual":
                for its in sets.values():
                    its.exdate(moment)
        for moment in rrule.rrule(rrule.DAILY, dtstart=start, until=until):
            plan, _ = self.plan_of(moment.date())
            if plan != "usual":
                again = sets[f"{plan} instead"] = sets.get(f"{plan} instead", rrule.rruleset())
                again.rdate(moment)
        return sets

    def rings(self) -> Iterator[tuple[int, str, list[float]]]:
        for name, dates in self.dates().items():
            plan = name.removesuffix(" instead")
            entries = list(self.tape() if plan == "tape" else self.written(plan))
            for moment in dates:
                _, lifted = self.plan_of(moment.date())
                for at, zones, strokes in entries:
                    local = datetime.combine(moment.date(), at)
                    shown = tz.resolve_imaginary(local.replace(tzinfo=self.place, fold=0))
                    due = utc_ns(shown.astimezone(UTC))
                    for zone in zones:
                        if lifted or not self.quiet(zone, local):
                            yield due, zone, strokes

    def soundings(self) -> list[Sounding]:
        """Rings of a zone whose spans overlap or touch are one."""
        found: dict[str, list[list[float]]] = {zone: [] for zone in self.zones}
        for due, zone, strokes in sorted(self.rings(), key=lambda ring: ring[0]):
            end = due + round(sum(strokes) * 1e9)
            if found[zone] and due <= found[zone][-1][1]:
                found[zone][-1][1] = max(found[zone][-1][1], end)
            else:
                found[zone].append([due, end])
        return sorted((a, zone, (b - a) / 1e9) for zone, all_ in found.items() for a, b in all_)


@pytest.mark.parametrize("demo", ["marrow-lane", "foundry-hall.toml"])
def test_a_year_of_soundings_is_what_recurrence_rules_give(demo):
    building = read(CONFIG / demo)
    civil = building.civil
    start = civil.instant(datetime.combine(FIRST, time.min))
    until = civil.instant(datetime.combine(LAST + timedelta(days=1), time.min))
    records = list(rehearse(building, Script(start, until, lines=False)))
    ours = sorted((r.due, r.zone, r.length / 1e9) for r in records if isinstance(r, RingRecord))
    theirs = Reading(whole_file(CONFIG / demo)).soundings()
    assert len(theirs) > 1_500
    assert ours == theirs
    assert not [one for one in records if isinstance(one, MissedRecord)]
    end = records[-1]
    assert isinstance(end, EndRecord)
    assert end.rings == len(theirs)
