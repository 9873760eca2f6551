"""The table of amps and volts that the wiring sheet prints."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from installed import BATTERY, LINE, SINGLE, ZONE, installed

from controller.electrics.figures import ToBeMeasured
from controller.electrics.load import Closing, Played
from controller.electrics.sheet import circuit_rows, return_rows, supply_row

S = 1_000_000_000
RUN = 'run_metres = 50\nwire = "1.5 mm2"\n'


def test_a_zone_whose_figures_are_all_known():
    (row,) = circuit_rows(installed(BATTERY, ZONE + RUN))
    assert (row.circuit, row.devices, row.amps) == ("zones.north", "6 bells", 1.5)
    assert row.most_amps == pytest.approx(1.5 * 29.4 / 24)
    # wiring/circuits.md: 1.5 A over 50 m of 1.5 mm² lose 1.8 V at 20 °C
    assert row.run_ohms == pytest.approx(1.21)
    assert row.volts == pytest.approx(27.24 - 1.815)
    assert row.worst_volts == pytest.approx(21 - 1.815 * (1 + 0.00393 * 20))
    assert (row.needed_volts, row.fuse_amps) == (18, 2.0)
    assert row.snubber == (12, 24, 0.75, 1.5)  # wiring/circuits.md, for just this zone
    assert row.contact_makes_amps == pytest.approx(29.4 / 16 + 29.4 / 24)
    assert row.wire_bears_amps == 10  # NEC 240.4(D): 16 AWG, which 1.5 mm² is not thinner than
    assert row.mean_amps is None


def test_what_numbers_cannot_know_is_to_be_measured_and_not_nought():
    (row,) = circuit_rows(installed("[zones.north]\nrelay = 17\n"))
    assert row.amps == ToBeMeasured("current of each bell")
    assert row.run_ohms == row.short_amps == ToBeMeasured("length of its run")
    assert row.fuse_amps == ToBeMeasured("current of each bell")
    assert str(row.amps) == "to be measured: current of each bell"


def test_a_length_without_a_wire():
    (row,) = circuit_rows(installed(ZONE + "run_metres = 50\n"))
    assert row.volts == row.wire_bears_amps == ToBeMeasured("wire of its run")


def test_a_line_keeping_time_and_driven():
    (row,) = circuit_rows(installed(LINE))
    assert (row.duty, row.catch_up_duty) == (pytest.approx(1 / 60), pytest.approx(1 / 2))
    assert row.mean_amps == pytest.approx(0.264 / 60)
    assert row.catch_up_amps == pytest.approx(0.132)
    assert row.suppressor.kind == "bidirectional"
    assert row.release_seconds == ToBeMeasured("ohms of each dial")


def test_an_alternating_lines_coils_are_short_circuited_at_rest_whatever_is_fitted():
    # wiring/circuits.md: both relays at rest join both ends to 0 V. By hand: 3 H / 2000 Ω is
    # 1.5 ms, and down to a tenth takes ln 10 of them
    coils = "ohms_each = 2000.0\nhenries_each = 3.0\n"
    for fitted in ("", 'suppressor = "bidirectional"\nstand_off_volts = 30.0\n'):
        (row,) = circuit_rows(installed(BATTERY, LINE + coils + fitted))
        assert row.release_seconds == pytest.approx(0.0015 * log(10))


def test_a_line_in_series():
    series = SINGLE + RUN + 'wired = "series"\nohms_each = 15.0\n'
    (row,) = circuit_rows(installed(series))
    # by hand: 24 V for 0.2 A is 120 Ω, less 60 Ω of coils and 1.21 Ω of wire
    assert row.resistor == pytest.approx(58.79)
    assert row.resistor_watts == pytest.approx(0.04 * 58.79)
    assert row.volts == ToBeMeasured("its dropping resistor")
    (row,) = circuit_rows(installed(series + "resistor_ohms = 58.79\n"))
    assert row.short_amps < 24 / 58.79, "its resistor bounds it"
    assert row.volts == pytest.approx(0.2 * 15)
    assert row.needed_volts == pytest.approx(0.75 * 3)


@given(st.floats(1, 900), st.floats(1, 90))
def test_volts_fall_with_length(metres, more):
    near, far = (
        circuit_rows(installed(BATTERY, ZONE + f'wire = "2.5 mm2"\nrun_metres = {length}\n'))[0]
        for length in (metres, metres + more)
    )
    assert near.worst_volts > far.worst_volts
    assert near.volts > near.worst_volts


def test_a_shared_return():
    south = ZONE.replace("north", "south").replace("17", "18")
    shares = 'shares_return = "attic"\n' + RUN
    back = '[returns.attic]\nmetres = 60\nwire = "2.5 mm2"\n'
    house = installed(BATTERY, ZONE + shares, south + shares, back)
    (row,) = return_rows(house)
    assert row.circuits == ("zones.north", "zones.south")
    assert row.amps == 3.0
    assert row.ohms == pytest.approx(0.4446)
    north = circuit_rows(house)[0]
    assert north.run_ohms == pytest.approx(0.605), "one conductor of its own"
    assert north.volts == pytest.approx(27.24 - 1.5 * (0.605 + 0.4446)), "alone in its return"
    warm = 1 + 0.00393 * 20
    assert north.worst_volts == pytest.approx(21 - (1.5 * 0.605 + 3.0 * 0.4446) * warm)


def test_the_supply_as_a_day_loads_it():
    house = installed(BATTERY, ZONE, LINE)
    closings = (Closing("zones.north", 0, 10 * S), Closing("lines.main", 5 * S, 6 * S))
    row = supply_row(house, Played(0, 86_400 * S, closings))
    assert (row.worst_amps, row.worst_utc) == (pytest.approx(1.764), 5 * S)
    assert row.amp_hours_a_day == pytest.approx((15 + 0.264) / 3600)
    mean = 0.3 + (15 + 0.264) / 3600 / 24
    assert row.needed_amp_hours == pytest.approx(mean * 20 * (24 / 20) * 1.25)
    assert row.lasts_hours == pytest.approx(26 / 1.25 / mean)


def test_without_a_played_week_that_is_to_be_measured():
    row = supply_row(installed(BATTERY, ZONE), None)
    assert row.worst_amps == ToBeMeasured("a week of the timetable, played")
    assert row.worst_utc is None


def test_without_a_battery_its_size_is_to_be_measured():
    row = supply_row(installed(ZONE), Played(0, S, (Closing("zones.north", 0, S),)))
    assert row.worst_amps == 1.5
    assert row.lasts_hours == ToBeMeasured("the battery, if there is one")


def test_a_load_beyond_every_fuse():
    (row,) = circuit_rows(installed(ZONE.replace("bells = 6", "bells = 1000")))
    assert row.fuse_amps == ToBeMeasured("a fuse that carries it; split the circuit in two")
