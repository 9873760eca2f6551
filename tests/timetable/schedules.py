"""Invented timetables for the property tests: as plain values, as the text of a file, and read by
hand, rule by rule, without a line of the program's own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
SECOND = 1_000_000_000
FIRST, LAST = date(2026, 1, 1), date(2026, 12, 31)  # dates that calendars and questions fall in


@dataclass(frozen=True)
class Entry:
    at: int  # seconds of the day
    zones: tuple[str, ...]
    seconds: int
    says: str


@dataclass(frozen=True)
class Dates:
    first: date
    last: date
    single: bool
    plan: str
    lift_quiet: bool

    def meets(self, other: Dates) -> bool:
        return self.first <= other.last and other.first <= self.last


@dataclass(frozen=True)
class Holes:
    length_hours: int
    starts: int  # seconds of the day
    seconds: int
    holes: dict[str, tuple[int, ...]]  # zone: minutes from the mark


@dataclass(frozen=True)
class Schedule:
    timezone: str
    zones: tuple[str, ...]
    plans: dict[str, tuple[Entry, ...]]
    week: dict[str, str] = field(default_factory=dict)
    calendar: tuple[Dates, ...] = ()
    quiet: dict[str, tuple[str, ...]] = field(default_factory=dict)
    tape: Holes | None = None

    def with_zones(self, zones: tuple[str, ...]) -> Schedule:
        return replace(self, zones=zones)

    def with_calendar(self, calendar: tuple[Dates, ...]) -> Schedule:
        return replace(self, calendar=calendar)

    # ── as the text of a file ────────────────────────────────────────────────────────────────

    def text(self) -> str:
        return "\n".join(self._lines())

    def _lines(self) -> Iterator[str]:
        yield f'[building]\ntimezone = "{self.timezone}"'
        for zone in self.zones:
            # a zone keeps its relay wherever it stands in the file
            yield f'[zones.{zone}]\nrelay = {RELAYS[zone]}\nlongest = "20s"\na_minute = "40s"'
        if self.quiet:
            yield "[quiet]"
            yield from (f"{zone} = {list(rows)}" for zone, rows in self.quiet.items())
        for name, entries in self.plans.items():
            yield f"[plans.{name}]\nrings = ["
            for one in entries:
                yield (
                    f'{{ at = "{clock(one.at)}", zones = {list(one.zones)}, '
                    f'for = "{one.seconds}s", says = "{one.says}" }},'
                )
            yield "]"
        yield "[week]"
        yield from (f'{day} = "{plan}"' for day, plan in self.week.items())
        for dates in self.calendar:
            yield "[[calendar]]"
            if dates.single:
                yield f"on = {dates.first}"
            else:
                yield f"from = {dates.first}\nuntil = {dates.last}"
            yield f'plan = "{dates.plan}"\nlift_quiet = {str(dates.lift_quiet).lower()}'
        if self.tape is not None:
            yield f'[tape]\nlength = "{self.tape.length_hours}h"\nfor = "{self.tape.seconds}s"'
            yield f'starts = "{clock(self.tape.starts)}"\n[tape.holes]'
            for zone, minutes in self.tape.holes.items():
                yield f"{zone} = {[clock(minute * 60)[:5] for minute in minutes]}"

    # ── read by hand ─────────────────────────────────────────────────────────────────────────

    def rings_by_hand(self, day: date) -> tuple[set[tuple[str, str, int]], set]:
        """(zone, written, due in seconds) of what rings on `day`, and of what is silenced."""
        covering = [dates for dates in self.calendar if dates.first <= day <= dates.last]
        singles = [dates for dates in covering if dates.single]
        deciding = (singles or covering or [None])[-1]
        plan = "usual" if deciding is None else deciding.plan
        asked: set[tuple[str, int]] = set()
        if plan == "usual":
            if self.tape is not None:
                turn = self.tape.length_hours * 3600
                for zone, minutes in self.tape.holes.items():
                    for minute in minutes:
                        mark = (self.tape.starts + minute * 60) % turn
                        asked |= {(zone, at) for at in range(86_400) if at % turn == mark}
            plan = self.week.get(WEEKDAYS[day.weekday()], "none")
        for one in self.plans.get(plan, ()):
            asked |= {(zone, one.at) for zone in one.zones}
        rings, silenced = set(), set()
        for zone, at in asked:
            night = at < 6 * 3600 or at >= 18 * 3600
            owner = day - timedelta(days=1) if at < 6 * 3600 else day
            name = WEEKDAYS[owner.weekday()]
            rows = self.quiet.get(zone, ())
            quiet = name in rows or f"{name} {'night' if night else 'day'}" in rows
            lifted = deciding is not None and deciding.lift_quiet
            written = datetime(day.year, day.month, day.day) + timedelta(seconds=at)
            due = written.replace(tzinfo=ZoneInfo(self.timezone)).astimezone(UTC)
            ring = (zone, written.isoformat(), round(due.timestamp()))
            (silenced if quiet and not lifted else rings).add(ring)
        return rings, silenced


RELAYS = {"north": 17, "south": 27, "yard": 22}


def clock(seconds: int) -> str:
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


# ── what hypothesis draws from ───────────────────────────────────────────────────────────────────

TIMEZONES = (
    "America/Halifax",
    "Europe/London",
    "Australia/Lord_Howe",
    "Asia/Kolkata",
    "America/Nuuk",  # its spring change skips the hour before midnight
    "Pacific/Kiritimati",
)
# Whole hours, the hours that clock changes touch, the halves' edges, and times close together.
times = st.one_of(
    st.integers(0, 23).map(lambda hour: hour * 3600),
    st.integers(0, 24 * 12 - 1).map(lambda step: step * 300),
    st.sampled_from([0, 21_599, 21_600, 64_799, 64_800, 86_399, 86_340, 30_605, 30_610]),
)
zone_sets = st.lists(st.sampled_from(sorted(RELAYS)), min_size=1, max_size=3, unique=True)
entries = st.builds(
    Entry,
    times,
    zone_sets.map(tuple),
    st.integers(1, 10),
    st.sampled_from(["", "Lunch", "Assembly"]),
)
dates = st.dates(FIRST, LAST)
plan_names = st.sampled_from(["regular", "short"])


@st.composite
def calendar_entries(draw) -> Dates:
    first = draw(dates)
    single = draw(st.booleans())
    last = first if single else first + timedelta(days=draw(st.integers(0, 40)))
    plan = draw(st.sampled_from(["regular", "short", "none", "usual"]))
    return Dates(first, last, single, plan, draw(st.booleans()))


quiet_rows = st.sampled_from(
    [*WEEKDAYS, *(f"{day} {half}" for day in WEEKDAYS for half in ("day", "night"))]
)
tapes = st.builds(
    Holes,
    st.just(6),
    st.sampled_from([0, 300, 86_100]),
    st.integers(1, 10),
    st.dictionaries(
        st.sampled_from(sorted(RELAYS)),
        st.lists(st.integers(0, 359), min_size=1, max_size=3, unique=True).map(
            lambda minutes: tuple(sorted(minutes))
        ),
        min_size=1,
    ),
)
schedules = st.builds(
    Schedule,
    st.sampled_from(TIMEZONES),
    st.permutations(sorted(RELAYS)).map(tuple),
    st.fixed_dictionaries(
        {name: st.lists(entries, max_size=5).map(tuple) for name in ("regular", "short")}
    ),
    st.dictionaries(st.sampled_from(WEEKDAYS), plan_names),
    st.lists(calendar_entries(), max_size=5).map(tuple),
    st.dictionaries(
        st.sampled_from(sorted(RELAYS)),
        st.lists(quiet_rows, min_size=1, max_size=3, unique=True).map(tuple),
    ),
    st.none() | tapes,
)
