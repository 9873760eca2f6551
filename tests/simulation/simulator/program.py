"""What is due and what is right, read from the file by plain rules of the judge's own.

Nothing here uses the controller's timetable, dials or building: the TOML is read anew, by design
sections 4 and 5. Public holidays are not modelled.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from simulator.words import DAY, HOUR, MINUTE, SECOND

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_UNITS = {"ms": 1_000_000, "s": SECOND, "m": MINUTE, "h": HOUR, "d": DAY}
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

Closings = tuple[tuple[int, int], ...]


class Due(NamedTuple):
    """A ring as the file has it."""

    zone: str
    written: str
    due: int  # utc
    closings: Closings  # from its start


class ZoneRules(NamedTuple):
    longest: int
    a_minute: int
    sensed: bool


class LineRules(NamedTuple):
    alternating: bool
    every: int
    impulse: int
    gap: int
    positions: int
    patience: int
    sensed: bool


def length(text: str) -> int:
    """ "1.5s" in nanoseconds."""
    for unit in ("ms", "s", "m", "h", "d"):
        if text.endswith(unit) and (unit != "s" or not text.endswith("ms")):
            return round(float(text[: -len(unit)]) * _UNITS[unit])
    raise ValueError(text)


def clock_time(text: str) -> int:
    """ "08:30" in nanoseconds from midnight."""
    hours, minutes, seconds = [*map(int, text.split(":")), 0][:3]
    return hours * HOUR + minutes * MINUTE + seconds * SECOND


class Program:
    """One file."""

    def __init__(self, text: str) -> None:
        file = tomllib.loads(text)
        self.file = file
        self.timezone = ZoneInfo(file["building"]["timezone"])
        self.grace = length(file.get("clock", {}).get("grace", "30s"))
        self.lead = length(file.get("clock", {}).get("lead", "1s"))
        self.supply_sensed = "sense" in file.get("supply", {})
        self.amps = file.get("supply", {}).get("amps")
        self.zones = {name: _zone(one) for name, one in file.get("zones", {}).items()}
        self.lines = {name: _line(one) for name, one in file.get("lines", {}).items()}
        self.drawn = {name: _amps(one, "bells") for name, one in file.get("zones", {}).items()}
        self.lines_draw = sum(_line_amps(one) for one in file.get("lines", {}).values())
        self.panel: dict[str, dict[str, Any]] = file.get("panel", {})
        halves = file.get("halves", {})
        self.day_half = clock_time(halves.get("day", "06:00"))
        self.night_half = clock_time(halves.get("night", "18:00"))
        self._offsets: dict[int, int] = {}
        self._dates: dict[tuple[str, str], dict[tuple[str, str], Due]] = {}

    # ── rings ────────────────────────────────────────────────────────────────────────────────

    def ring(self, zone: str, written: str, follow: Mapping[str, str]) -> Due | None:
        """The ring of this identity, if the file has it."""
        return self.date(written[:10], follow).get((zone, written))

    def between(self, start: int, end: int, follow: Mapping[str, str]) -> Iterator[Due]:
        """Rings due from `start` up to `end` (utc)."""
        day = self.local(start).date() - timedelta(days=1)
        last = self.local(end).date() + timedelta(days=1)
        while day <= last:
            for due in self.date(day.isoformat(), follow).values():
                if start <= due.due < end:
                    yield due
            day += timedelta(days=1)

    def date(self, day: str, follow: Mapping[str, str]) -> dict[tuple[str, str], Due]:
        """All rings of a date, by (zone, as written)."""
        key = day, follow.get(day, "")
        if key not in self._dates:
            self._dates[key] = self._of_date(date.fromisoformat(day), key[1])
        return self._dates[key]

    def _of_date(self, day: date, order: str) -> dict[tuple[str, str], Due]:
        entry = self._entry(day)
        plan = order or ("usual" if entry is None else entry["plan"])
        lifts = entry is not None and entry.get("lift_quiet", False) and order != "usual"
        asked = [*self._usual(day)] if plan == "usual" else [*self._plan(plan)]
        joined: dict[tuple[str, str], list[tuple[int, int]]] = {}
        for zone, at, closings in asked:
            if not lifts and self._quiet(zone, day, at):
                continue
            local = datetime.combine(day, time.min) + timedelta(seconds=at // SECOND)
            joined.setdefault((zone, local.isoformat()), []).extend(closings)
        return {
            (zone, written): Due(zone, written, self._instant(written), union(closings))
            for (zone, written), closings in joined.items()
        }

    def _entry(self, day: date) -> dict[str, Any] | None:
        found = None
        for entry in self.file.get("calendar", []):
            if "on" in entry and date.fromisoformat(str(entry["on"])) == day:
                found = entry
        if found is not None:
            return found
        for entry in self.file.get("calendar", []):
            if "from" in entry:
                first, last = (date.fromisoformat(str(entry[k])) for k in ("from", "until"))
                if first <= day <= last:
                    found = entry
        return found

    def _usual(self, day: date) -> Iterator[tuple[str, int, Closings]]:
        plan = self.file.get("week", {}).get(WEEKDAYS[day.weekday()])
        if plan is not None:
            yield from self._plan(plan)
        tape = self.file.get("tape")
        if tape is not None:
            turn, starts = length(tape["length"]), clock_time(tape.get("starts", "00:00"))
            for zone, holes in tape["holes"].items():
                for hole in holes:
                    first = (starts + clock_time(hole)) % turn
                    for at in range(first, DAY, turn):
                        yield zone, at, ((0, length(tape["for"])),)

    def _plan(self, plan: str) -> Iterator[tuple[str, int, Closings]]:
        if plan == "none":
            return
        for ring in self.file["plans"][plan]["rings"]:
            for zone in self.zones if "*" in ring["zones"] else ring["zones"]:
                yield zone, clock_time(ring["at"]), _closings(ring)

    def _quiet(self, zone: str, day: date, at: int) -> bool:
        """Whether a quiet row silences it: a night belongs to the day on which it began."""
        rows = self.file.get("quiet", {}).get(zone, ())
        if at < self.day_half:
            day, half = day - timedelta(days=1), "night"
        else:
            half = "day" if at < self.night_half else "night"
        weekday = WEEKDAYS[day.weekday()]
        return weekday in rows or f"{weekday} {half}" in rows

    def _instant(self, written: str) -> int:
        """RFC 5545, 3.3.5: zoneinfo's fold = 0 reads a gap by the offset before, and the first."""
        local = datetime.fromisoformat(written).replace(tzinfo=self.timezone, fold=0)
        return round((local.astimezone(UTC) - _EPOCH).total_seconds()) * SECOND

    # ── dials ────────────────────────────────────────────────────────────────────────────────

    def offset(self, utc: int) -> int:
        """Local time − UTC, ns. No zone of ours changes within a quarter of an hour."""
        quarter = utc // (15 * MINUTE)
        offset = self._offsets.get(quarter)
        if offset is None:
            local = (_EPOCH + timedelta(minutes=15 * quarter)).astimezone(self.timezone)
            offset = round(local.utcoffset().total_seconds()) * SECOND
            self._offsets[quarter] = offset
        return offset

    def local(self, utc: int) -> datetime:
        return (_EPOCH + timedelta(microseconds=utc // 1000)).astimezone(self.timezone)

    def true(self, line: LineRules, utc: int) -> int:
        """What dials should show."""
        return (utc + self.offset(utc)) % DAY // line.every % line.positions

    def to_be_driven(self, line: LineRules, shown: int, utc: int) -> bool:
        behind = (self.true(line, utc) - shown) % line.positions
        return behind != 0 and (line.positions - behind) * line.every > line.patience


@lru_cache(maxsize=64)
def program_of(text: str) -> Program:
    return Program(text)


def union(closings: list[tuple[int, int]]) -> Closings:
    """Closed whenever any of them is."""
    merged: list[tuple[int, int]] = []
    for start, end in sorted(closings):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return tuple(merged)


def _closings(ring: dict[str, Any]) -> Closings:
    if "for" in ring:
        return ((0, length(ring["for"])),)
    at, closings = 0, []
    for number, stroke in enumerate(ring["strokes"]):
        lasts = round(stroke * SECOND)
        if number % 2 == 0:
            closings.append((at, at + lasts))
        at += lasts
    return tuple(closings)


def _zone(zone: dict[str, Any]) -> ZoneRules:
    longest = length(zone.get("longest", "10s"))
    if zone.get("kind") == "single-stroke":
        longest = min(longest, SECOND)
    return ZoneRules(longest, length(zone.get("a_minute", "30s")), "sense" in zone)


def _amps(table: dict[str, Any], number: str) -> float:
    return table.get(number, 0) * table.get("amps_each", 0.0)


def _line_amps(line: dict[str, Any]) -> float:
    if line.get("wired") == "series":
        return line.get("amps_each", 0.0)
    return _amps(line, "dials")


def _line(line: dict[str, Any]) -> LineRules:
    every = length(line.get("every", "60s"))
    return LineRules(
        line["drive"] == "alternating",
        every,
        length(line.get("impulse", "1s")),
        length(line.get("gap", "1s")),
        length(line.get("face", "12h")) // every,
        length(line.get("patience", "75m")),
        "sense" in line,
    )
