"""The example of the file format (design section 5), word for word, and what is read of it."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path

import pytest

from controller.building.faults import Faults
from controller.building.file import read

S = 1_000_000_000
M = 60 * S
H = 60 * M
EXAMPLE = Path(__file__).parent / "example.toml"
# The example names a zone and a plan that it does not show.
UNSHOWN = "[zones.south]\nrelay = 27\n[plans.early-close]\nrings = []\n"


@pytest.fixture
def building(tmp_path):
    (tmp_path / "10-example.toml").write_text(EXAMPLE.read_text(encoding="utf-8"))
    (tmp_path / "20-unshown.toml").write_text(UNSHOWN)
    return read(tmp_path)


def test_by_itself_only_what_it_does_not_show_is_missed():
    with pytest.raises(Faults) as faults:
        read(EXAMPLE)
    assert {(one.table, one.key) for one in faults.value.faults} == {
        ("[plans.regular] ring 1 (08:30)", "zones"),
        ("[[calendar]] entry 2 (2026-12-18)", "plan"),
    }


def test_the_building_and_its_supply(building):
    assert building.name == "Marrow Lane School"
    assert building.civil.key == "America/Halifax"
    supply = building.supply
    assert (supply.volts, supply.amps, supply.sense) == (24.0, 5.0, 26)
    assert building.bell_amps == pytest.approx(5.0 - 22 * 0.012)


def test_the_zone(building):
    zone = building.zones["north"]
    assert (zone.title, zone.relay, zone.active, zone.kind) == (
        "North wing", 17, "high", "trembler",
    )  # fmt: skip
    assert (zone.longest_ns, zone.a_minute_ns) == (10 * S, 30 * S)
    assert (zone.bells, zone.amps_each, zone.amps, zone.sense) == (6, 0.25, 1.5, 24)


def test_the_line(building):
    line = building.lines["main"]
    assert (line.title, line.drive, line.relays, line.active) == (
        "All classrooms", "alternating", (22, 23), "high",
    )  # fmt: skip
    assert (line.every_ns, line.impulse_ns, line.gap_ns) == (60 * S, S, S)
    assert (line.face_ns, line.patience_ns, line.positions) == (12 * H, 75 * M, 720)
    assert (line.dials, line.amps_each, line.wired) == (22, 0.012, "parallel")
    assert line.amps == pytest.approx(0.264)


def test_panel_health_clock_and_logbook(building):
    button = building.panel["north_button"]
    assert (button.pin, button.active, button.does) == (20, "low", "ring")
    assert (button.zones, button.line, button.debounce_ns) == (("north",), None, 20_000_000)
    assert (building.health.relay, building.health.active) == (25, "high")
    clock = building.clock
    assert (clock.trust_rtc, clock.grace_ns, clock.lead_ns) == (False, 30 * S, S)
    assert building.logbook.keep_ns == 400 * 24 * H


def test_halves_and_quiet_rows(building):
    assert (building.halves.day, building.halves.night) == (time(6), time(18))
    assert building.quiet == {
        "north": {(6, "day"), (6, "night"), (7, "day"), (7, "night"), (5, "night")}
    }


def test_plan_and_week(building):
    first, second = building.plans["regular"]
    assert (first.at, first.zones, first.says) == (time(8, 30), ("north", "south"), "First class")
    assert first.closings == ((0, 5 * S),)
    assert (second.at, second.zones, second.says) == (time(12), ("north", "south"), "Lunch")
    assert second.closings == ((0, S), (3 * S // 2, 5 * S // 2))
    assert building.week == {1: "regular"}


def test_calendar_and_holidays(building):
    winter, early = building.calendar
    assert (winter.first, winter.last) == (date(2026, 12, 19), date(2027, 1, 3))
    assert (winter.single, winter.plan, winter.says) == (False, "none", "Winter break")
    assert (early.first, early.last) == (date(2026, 12, 18), date(2026, 12, 18))
    assert (early.single, early.plan, early.lift_quiet) == (True, "early-close", False)
    holidays = building.holidays
    assert (holidays.country, holidays.subdivision, holidays.plan) == ("CA", "NS", "none")


def test_tape(building):
    tape = building.tape
    assert (tape.length_ns, tape.starts, tape.closings) == (12 * H, time(0), ((0, 5 * S),))
    assert tape.holes == {"north": (8 * H + 30 * M, 9 * H + 20 * M)}
