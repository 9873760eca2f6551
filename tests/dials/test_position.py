"""What dials should show, when they wait, and when they are driven."""

from __future__ import annotations

from datetime import datetime

import pytest
from dial_lines import MINUTE, SECOND, line_of

from controller.building.civil import CivilTime
from controller.dials.position import face_text, next_change, true_position, verdict

HALIFAX = CivilTime("America/Halifax")


def at(*local: int, civil: CivilTime = HALIFAX) -> int:
    return civil.instant(datetime(*local))


@pytest.mark.parametrize(
    ("face", "every", "position"),
    [("12h", "60s", 870 - 720), ("24h", "60s", 870), ("12h", "30s", 300), ("24h", "30s", 1740)],
)
def test_the_true_position_of_half_past_two(face, every, position):
    line = line_of(face=face, every=every)
    assert true_position(line, HALIFAX, at(2026, 11, 25, 14, 30)) == position
    assert true_position(line, HALIFAX, at(2026, 11, 25, 14, 30) + 29 * SECOND) == position
    assert true_position(line, HALIFAX, at(2026, 11, 25, 14, 30) - 1) == position - 1


def test_noon_and_midnight_are_nought():
    line = line_of()
    assert true_position(line, HALIFAX, at(2026, 11, 25, 12, 0)) == 0
    assert true_position(line, HALIFAX, at(2026, 11, 25, 0, 0)) == 0
    assert face_text(line, 0) == "00:00"


def test_faces_show_seconds_on_half_minute_lines_only():
    assert face_text(line_of(), 719) == "11:59"
    assert face_text(line_of(every="30s"), 1439) == "11:59:30"
    assert face_text(line_of(face="24h"), 1439) == "23:59"


def test_an_offset_of_odd_minutes_moves_no_boundary_and_one_of_odd_seconds_does():
    # Monrovia kept −0:44:30 until 1972 (IANA tz, africa)
    monrovia = CivilTime("Africa/Monrovia")
    line = line_of(every="60s")
    utc = at(1971, 6, 1, 8, 30, civil=monrovia)
    assert utc % MINUTE == 30 * SECOND
    assert next_change(line, monrovia, utc) == utc + MINUTE
    assert true_position(line, monrovia, utc - 1) == 509
    assert true_position(line, monrovia, utc) == 510


@pytest.mark.parametrize(
    ("patience", "ahead", "expected"),
    [
        ("75m", 1, "wait"),
        ("75m", 75, "wait"),
        ("75m", 76, "drive"),
        ("75m", 719, "drive"),  # one behind
        ("0s", 1, "drive"),
        ("0s", 0, "right"),
        ("60m", 60, "wait"),
        ("60m", 61, "drive"),
        ("719m", 719, "wait"),  # the most that a 12 h face allows: nothing is ever driven
    ],
)
def test_patience_includes_its_boundary(patience, ahead, expected):
    line = line_of(patience=patience)
    for true in (0, 1, 300, 719):
        assert verdict(line, (true + ahead) % 720, true) == expected


def test_patience_counts_time_and_not_impulses():
    line = line_of(every="30s", patience="75m")
    assert verdict(line, 150, 0) == "wait"
    assert verdict(line, 151, 0) == "drive"


def test_the_next_change_is_the_clock_change_where_that_comes_first():
    line = line_of(every="60s")
    apia = CivilTime("Pacific/Apia")
    before = at(2011, 12, 29, 23, 59, civil=apia)
    assert next_change(line, apia, before) == before + MINUTE
    assert next_change(line, apia, before + 59 * SECOND) == before + MINUTE
    # Liberia moved from −0:44:30 to 0 on 7 January 1972, at 00:00 local, half a minute past in UTC
    monrovia = CivilTime("Africa/Monrovia")
    change = monrovia.next_change(at(1972, 1, 6, civil=monrovia), at(1972, 1, 8, civil=monrovia))
    assert next_change(line, monrovia, change - 10 * SECOND) == change
