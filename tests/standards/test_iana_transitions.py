"""Civil time against the IANA time zone database, as its tables and as the system's `zdump`."""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from transition_tables import TABLES, Table

from controller.building.civil import CivilTime, utc_ns

SECOND = 10**9
NAMES = [f"{table.zone} {table.first_year}-{table.last_year}" for table in TABLES]


def start_of(year: int) -> int:
    return utc_ns(datetime(year, 1, 1, tzinfo=UTC))


def local(civil: CivilTime, utc: int) -> str:
    return civil.aware(utc).strftime("%Y-%m-%d %H:%M:%S")


# ── the tables (tz release 2026f) ────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("table", TABLES, ids=NAMES)
def test_the_offset_changes_at_the_instant_and_not_a_second_before(table: Table):
    civil = CivilTime(table.zone)
    for change in table.changes:
        instant = change.posix * SECOND
        assert civil.offset_seconds(instant - SECOND) == change.minutes_before * 60
        assert civil.offset_seconds(instant - 1) == change.minutes_before * 60
        assert civil.offset_seconds(instant) == change.minutes_after * 60
        assert local(civil, instant - SECOND) == change.last_before
        assert local(civil, instant) == change.first_after


@pytest.mark.parametrize("table", TABLES, ids=NAMES)
def test_the_next_change_is_the_next_of_the_table_and_no_other(table: Table):
    civil = CivilTime(table.zone)
    after, end = start_of(table.first_year), start_of(table.last_year + 1)
    found = []
    while (change := civil.next_change(after, end)) is not None:
        found.append(change // SECOND)
        after = change
    assert found == [change.posix for change in table.changes]


@pytest.mark.parametrize("table", TABLES, ids=NAMES)
def test_a_local_time_between_two_changes_is_one_instant(table: Table):
    civil = CivilTime(table.zone)
    for change in table.changes:
        noon = datetime.fromisoformat(change.first_after).replace(hour=12, minute=0, second=0)
        later = civil.instant(noon + timedelta(days=1))
        assert civil.offset_seconds(later) == change.minutes_after * 60


def test_kolkata_keeps_one_offset_for_seven_years():
    civil = CivilTime("Asia/Kolkata")
    assert civil.next_change(start_of(2024), start_of(2031)) is None
    assert civil.offset_seconds(start_of(2024)) == 19_800


def test_london_in_october_1968_changes_a_flag_and_no_offset():
    """1968-10-26T23:00Z: summer time becomes standard time at the same +01:00 (`zdump`)."""
    civil = CivilTime("Europe/London")
    before, after = (utc_ns(datetime(1968, 10, day, 23, tzinfo=UTC)) for day in (25, 27))
    assert civil.next_change(before, after) is None
    assert civil.offset_seconds(before) == civil.offset_seconds(after) == 3600


# ── the machine's zdump (tzcode; on Debian in libc-bin, so it is always there) ────────────────────

ZDUMP_SPANS = [
    *((table.zone, table.first_year, table.last_year + 1) for table in TABLES),
    ("America/New_York", 2024, 2031),
    ("America/Nuuk", 2022, 2031),  # skips the hour before midnight
    ("Africa/Cairo", 2022, 2031),  # skips the hour after midnight
    ("Africa/Casablanca", 2024, 2031),  # four changes a year, by the moon
    ("Antarctica/Troll", 2024, 2031),  # two hours at once
    ("Pacific/Chatham", 2024, 2031),  # offsets of three quarters
    ("America/Santiago", 2024, 2031),
]
_LINE = re.compile(r"\S+  (.+) UT = .+ isdst=[01] gmtoff=(-?\d+)")


def zdump(zone: str, first_year: int, past_year: int) -> list[tuple[int, int]]:
    """(POSIX time, offset in seconds) of every line that the machine's zdump prints."""
    command = shutil.which("zdump") or "/usr/bin/zdump"
    printed = subprocess.run(
        [command, "-v", "-c", f"{first_year},{past_year}", zone],
        check=True,
        capture_output=True,
        text=True,
        env={"LC_ALL": "C"},
    ).stdout
    found = [_LINE.fullmatch(line) for line in printed.splitlines()]
    return [
        (
            round(
                datetime.strptime(line[1], "%a %b %d %H:%M:%S %Y").replace(tzinfo=UTC).timestamp()
            ),
            int(line[2]),
        )
        for line in found
        if line is not None
    ]


@pytest.mark.parametrize(("zone", "first", "past"), ZDUMP_SPANS)
def test_every_line_of_zdump_has_our_offset(zone: str, first: int, past: int):
    civil = CivilTime(zone)
    lines = zdump(zone, first, past)
    assert lines or zone == "Asia/Kolkata"
    assert [civil.offset_seconds(posix * SECOND) for posix, _ in lines] == [o for _, o in lines]


@pytest.mark.parametrize(("zone", "first", "past"), ZDUMP_SPANS)
def test_we_find_every_change_of_offset_that_zdump_prints(zone: str, first: int, past: int):
    """zdump prints two lines a change: the last second before it and the first of it."""
    civil = CivilTime(zone)
    lines = [line for line in zdump(zone, first, past) if line[0] > start_of(first) // SECOND]
    changes = [
        posix
        for (before, old), (posix, new) in pairwise(lines)
        if posix == before + 1 and old != new
    ]
    found, after = [], start_of(first)
    while (change := civil.next_change(after, start_of(past) - SECOND)) is not None:
        found.append(change // SECOND)
        after = change
    assert found == changes


# ── lengths of local days (reference values, from the tables above) ──────────────────────────────


@pytest.mark.parametrize(
    ("zone", "day", "minutes"),
    [
        ("America/Chicago", date(2026, 3, 8), 1380),
        ("America/Chicago", date(2026, 11, 1), 1500),
        ("Europe/London", date(2026, 3, 29), 1380),
        ("Europe/London", date(2026, 10, 25), 1500),
        ("Australia/Lord_Howe", date(2026, 10, 4), 1410),
        ("Australia/Lord_Howe", date(2026, 4, 5), 1470),
        ("Asia/Kolkata", date(2026, 6, 1), 1440),
        ("Pacific/Apia", date(2011, 12, 30), 0),
        ("Europe/London", date(1968, 10, 27), 1440),
    ],
)
def test_a_local_day_has_its_minutes(zone: str, day: date, minutes: int):
    civil = CivilTime(zone)
    start, end = (
        civil.instant(datetime.combine(each, datetime.min.time()))
        for each in (day, day + timedelta(days=1))
    )
    assert (end - start) // (60 * SECOND) == minutes
    within = range(start, end, 60 * SECOND)
    assert sum(1 for utc in within if civil.date_at(utc) == day) == minutes
