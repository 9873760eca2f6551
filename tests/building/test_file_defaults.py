"""What must be there, what may be left out, and what holds then (design section 5)."""

from __future__ import annotations

from datetime import date, time

import pytest
from building_texts import LEAST

MS = 1_000_000
S = 1000 * MS
M = 60 * S
H = 60 * M
LINE = LEAST + '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\n'
PANEL = LEAST + '[panel.off_switch]\npin = 20\ndoes = "stop"\n'
HEALTH = LEAST + "[health]\nrelay = 25\n"
TAPE = LEAST + '[tape]\nlength = "12h"\nfor = "5s"\n[tape.holes]\nnorth = ["08:30"]\n'
RING = LEAST + '[plans.a]\nrings = [{ at = "08:30", zones = ["north"], for = "5s" }]\n'
DATES = LEAST + '[[calendar]]\non = 2026-12-18\nplan = "none"\n'
HOLIDAYS = LEAST + '[holidays]\ncountry = "US"\n'

DEFAULTS = [
    (LEAST, "name", ""),
    (LEAST, "supply.volts", 24.0),
    (LEAST, "supply.amps", None),
    (LEAST, "supply.sense", None),
    (LEAST, "bell_amps", None),
    (LEAST, "zones.north.title", ""),
    (LEAST, "zones.north.active", "high"),
    (LEAST, "zones.north.kind", "trembler"),
    (LEAST, "zones.north.longest_ns", 10 * S),
    (LEAST, "zones.north.a_minute_ns", 30 * S),
    (LEAST, "zones.north.bells", None),
    (LEAST, "zones.north.amps_each", None),
    (LEAST, "zones.north.amps", 0.0),
    (LEAST, "zones.north.sense", None),
    (LEAST, "health", None),
    (LEAST, "clock.trust_rtc", False),
    (LEAST, "clock.grace_ns", 30 * S),
    (LEAST, "clock.lead_ns", 1 * S),
    (LEAST, "logbook.keep_ns", 400 * 24 * H),
    (LEAST, "halves.day", time(6)),
    (LEAST, "halves.night", time(18)),
    (LEAST, "lines", {}),
    (LEAST, "panel", {}),
    (LEAST, "quiet", {}),
    (LEAST, "plans", {}),
    (LEAST, "week", {}),
    (LEAST, "calendar", ()),
    (LEAST, "holidays", None),
    (LEAST, "tape", None),
    (LINE, "lines.main.title", ""),
    (LINE, "lines.main.active", "high"),
    (LINE, "lines.main.every_ns", 60 * S),
    (LINE, "lines.main.impulse_ns", 1 * S),
    (LINE, "lines.main.gap_ns", 1 * S),
    (LINE, "lines.main.face_ns", 12 * H),
    (LINE, "lines.main.positions", 720),
    (LINE, "lines.main.patience_ns", 75 * M),
    (LINE, "lines.main.dials", None),
    (LINE, "lines.main.amps_each", None),
    (LINE, "lines.main.amps", 0.0),
    (LINE, "lines.main.wired", "parallel"),
    (LINE, "lines.main.sense", None),
    (PANEL, "panel.off_switch.active", "low"),
    (PANEL, "panel.off_switch.debounce_ns", 20 * MS),
    (PANEL, "panel.off_switch.zones", ()),
    (PANEL, "panel.off_switch.line", None),
    (HEALTH, "health.active", "high"),
    (TAPE, "tape.starts", time(0)),
    (RING, "plans.a.0.says", ""),
    (DATES, "calendar.0.says", ""),
    (DATES, "calendar.0.lift_quiet", False),
    (HOLIDAYS, "holidays.subdivision", None),
    (HOLIDAYS, "holidays.plan", "none"),
]

REQUIRED = [
    (LEAST, 'timezone = "Europe/Oslo"', "[building]", "timezone"),
    (LEAST, "relay = 17", "[zones.north]", "relay"),
    (LINE, 'drive = "alternating"', "[lines.main]", "drive"),
    (LINE, "relays = [22, 23]", "[lines.main]", "relays"),
    (PANEL, "pin = 20", "[panel.off_switch]", "pin"),
    (PANEL, 'does = "stop"', "[panel.off_switch]", "does"),
    (HEALTH, "relay = 25", "[health]", "relay"),
    (TAPE, 'length = "12h"', "[tape]", "length"),
    (TAPE, 'for = "5s"', "[tape]", "for"),
    (TAPE, '[tape.holes]\nnorth = ["08:30"]', "[tape]", "holes"),
    (RING, 'at = "08:30", ', "[plans.a] ring 1", "at"),
    (RING, 'zones = ["north"], ', "[plans.a] ring 1 (08:30)", "zones"),
    (RING, ', for = "5s"', "[plans.a] ring 1 (08:30)", ""),
    (DATES, "on = 2026-12-18", "[[calendar]] entry 1", ""),
    (DATES, 'plan = "none"', "[[calendar]] entry 1 (2026-12-18)", "plan"),
    (HOLIDAYS, 'country = "US"', "[holidays]", "country"),
]


def at(building, path):
    """The value at "zones.north.active"."""
    value = building
    for name in path.split("."):
        if isinstance(value, dict):
            value = value[name]
        elif name.isdigit():
            value = value[int(name)]
        else:
            value = getattr(value, name)
    return value


@pytest.mark.parametrize(
    ("text", "path", "default"), DEFAULTS, ids=[path for _, path, _ in DEFAULTS]
)
def test_what_is_left_out_has_its_default(building_of, text, path, default):
    assert at(building_of(text), path) == default


@pytest.mark.parametrize(("text", "line", "table", "key"), REQUIRED)
def test_what_is_required_is_missed(faults_of, text, line, table, key):
    assert text.count(line) == 1
    (fault,) = faults_of(text.replace(line, ""))
    assert (fault.table, fault.key) == (table, key)


def test_a_calendar_day_without_a_plan_of_the_week_has_no_entry(building_of):
    assert building_of(RING + '[week]\nwed = "a"\nsun = "none"\n').week == {3: "a", 7: "none"}


def test_tomls_own_dates_and_times_are_accepted(building_of):
    building = building_of(
        LEAST
        + "[halves]\nday = 07:00:00\n[[calendar]]\nfrom = 2026-12-19\nuntil = 2027-01-03\n"
        + 'plan = "none"\n[plans.a]\nrings = [{ at = 08:30:15, zones = ["*"], for = "5s" }]\n'
    )
    assert building.halves.day == time(7)
    assert building.plans["a"][0].at == time(8, 30, 15)
    entry = building.calendar[0]
    assert (entry.first, entry.last, entry.single) == (date(2026, 12, 19), date(2027, 1, 3), False)


def test_an_entry_with_on_is_a_single_date(building_of):
    entry = building_of(DATES).calendar[0]
    assert (entry.first, entry.last, entry.single) == (date(2026, 12, 18), date(2026, 12, 18), True)


def test_the_star_means_all_zones_in_the_order_of_the_file(building_of):
    text = RING.replace('"north"]', '"*"]').replace("[plans", "[zones.attic]\nrelay = 5\n[plans")
    text += '[panel.all]\npin = 20\ndoes = "ring"\nzones = ["*"]\n'
    building = building_of(text)
    assert building.plans["a"][0].zones == ("north", "attic")
    assert building.panel["all"].zones == ("north", "attic")


def test_strokes_are_closings_with_pauses_between(building_of):
    text = RING.replace('for = "5s"', "strokes = [1.0, 0.5, 2]")
    assert building_of(text).plans["a"][0].closings == ((0, S), (3 * S // 2, 7 * S // 2))


def test_for_is_one_closing(building_of):
    assert building_of(RING).plans["a"][0].closings == ((0, 5 * S),)


def test_a_quiet_weekday_is_its_day_and_its_night(building_of):
    text = LEAST + '[quiet]\nnorth = ["sat", "sun day", "fri night", "sat night"]\n'
    assert building_of(text).quiet == {
        "north": {(6, "day"), (6, "night"), (7, "day"), (5, "night")}
    }


def test_holes_are_sorted_offsets(building_of):
    text = TAPE.replace('["08:30"]', '["08:30", "00:00", 00:05:00]')
    assert building_of(text).tape.holes == {"north": (0, 5 * M, 8 * H + 30 * M)}


def test_a_single_line_takes_a_number_for_its_relay_and_for_its_sense(building_of):
    text = LEAST + '[lines.a]\ndrive = "single"\nrelays = 22\nsense = 23\n'
    line = building_of(text).lines["a"]
    assert (line.relays, line.sense) == ((22,), (23,))


def test_a_30_second_line_on_a_24_hour_face_has_2880_positions(building_of):
    text = LINE + 'every = "30s"\nface = "24h"\n'
    assert building_of(text).lines["main"].positions == 2880


def test_a_parallel_line_draws_for_every_dial_and_a_series_line_once(building_of):
    text = LINE + "dials = 20\namps_each = 0.01\n"
    assert building_of(text).lines["main"].amps == pytest.approx(0.2)
    assert building_of(text + 'wired = "series"\n').lines["main"].amps == pytest.approx(0.01)


def test_the_bells_have_what_the_lines_leave(building_of):
    text = LINE + "dials = 20\namps_each = 0.01\n[supply]\namps = 3\n"
    assert building_of(text).bell_amps == pytest.approx(2.8)


def test_a_single_stroke_bell_is_never_held_longer_than_a_second(building_of):
    text = LEAST + 'kind = "single-stroke"\n'
    assert building_of(text).zones["north"].longest_ns == S
    assert building_of(text + 'longest = "5s"\n').zones["north"].longest_ns == S
    assert building_of(text + 'longest = "300ms"\n').zones["north"].longest_ns == 300 * MS
