"""Our second reading of the compiled IANA tables, against the machine's `zdump`."""

from __future__ import annotations

import re
import shutil
import subprocess
import zoneinfo
from datetime import UTC, datetime

import pytest
from compiled_zones import DAY, FIRST, PAST, Table, read_table, table_of, zone_bytes

_LINE = re.compile(r"\S+  (.+) UT = .+ isdst=[01] gmtoff=(-?\d+)")
CHUNKS = 8


def zdump(path: str) -> list[tuple[int, int]]:
    """(seconds since 1970, offset) of what the machine's zdump prints for 2000 to 2037."""
    command = shutil.which("zdump") or "/usr/bin/zdump"
    printed = subprocess.run(
        [command, "-v", "-c", "2000,2038", path],
        check=True,
        capture_output=True,
        text=True,
        env={"LC_ALL": "C"},
    ).stdout
    found = [_LINE.fullmatch(line) for line in printed.splitlines()]
    return [(_posix(line[1]), int(line[2])) for line in found if line is not None]


def _posix(text: str) -> int:
    moment = datetime.strptime(text, "%a %b %d %H:%M:%S %Y").replace(tzinfo=UTC)
    return round(moment.timestamp())


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_every_line_of_zdump_stands_in_our_reading_and_no_change_is_left_out(chunk, tmp_path):
    """zdump prints two lines a change: the last second before it, and the first of it."""
    seen = set()
    for zone in sorted(zoneinfo.available_timezones())[chunk::CHUNKS]:
        data = zone_bytes(zone)
        if data in seen:
            continue
        seen.add(data)
        path = tmp_path / "zone"
        path.write_bytes(data)
        table = read_table(data)
        lines = [line for line in zdump(str(path)) if FIRST <= line[0] < PAST]
        assert [(at, table.offset_at(at)) for at, _ in lines] == lines, zone
        printed = {at for at, _ in lines}
        ours = {change.at for change in table.changes() if change.before != change.after}
        assert {at for at in ours if at > FIRST} <= printed, zone
        assert all(at - 1 in printed for at in ours if at > FIRST), zone


HALIFAX = Table((-(2**62), 1_772_949_600, 1_793_509_200), (-4 * 3600, -3 * 3600, -4 * 3600))


def local(text: str) -> int:
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp())


@pytest.mark.parametrize(
    ("written", "utc"),
    [
        ("2026-03-08T01:59:59", "2026-03-08T05:59:59"),
        ("2026-03-08T02:30:00", "2026-03-08T06:30:00"),  # does not exist: 03:30 by the new offset
        ("2026-03-08T03:00:00", "2026-03-08T06:00:00"),
        ("2026-11-01T01:30:00", "2026-11-01T04:30:00"),  # the first of two
        ("2026-11-01T02:00:00", "2026-11-01T06:00:00"),
    ],
)
def test_a_local_time_is_read_as_rfc_5545_says(written, utc):
    """§3.3.5, its two examples carried over to a zone four hours west."""
    assert HALIFAX.instant(local(written)) == local(utc)


def test_a_date_that_no_clock_showed_does_not_exist_and_those_beside_it_do():
    """Pacific/Apia, 30 December 2011 (reference values, 5.1)."""
    apia = table_of("Pacific/Apia")
    day = local("2011-12-30T00:00:00")
    assert [apia.date_exists(day + n * DAY) for n in (-1, 0, 1)] == [True, False, True]


def test_a_rule_that_is_written_out_is_that_of_the_table_before_it():
    """zic writes tables with all years or only those before the rule (its option -b)."""
    for zone in ("Europe/London", "America/Santiago", "Asia/Jerusalem", "Europe/Dublin"):
        data = zone_bytes(zone)
        whole = read_table(data)
        ruled = {
            change.at: change for change in read_table(_slim(data)).changes(PAST - 9 * 366 * DAY)
        }
        assert len(ruled) >= 16
        assert all(change in ruled.values() for change in whole.changes(PAST - 8 * 366 * DAY))


def _slim(data: bytes) -> bytes:
    """The same zone with no table at all: only its first offset and its rule."""
    footer = data.rstrip(b"\n").rpartition(b"\n")[2]
    head = b"TZif2" + bytes(15)
    block = head + bytes(4 * 3) + b"\0\0\0\0\0\0\0\1\0\0\0\1" + bytes(6) + b"\0"
    return block + block + b"\n" + footer + b"\n"
