"""Between which voltages a battery lives, and what devices need of it."""

from __future__ import annotations

import pytest

from controller.building.installed import Battery, Supply
from controller.electrics.supply import needed_volts, window


def test_twelve_cells():
    # 1.75 V a cell: War Department, Manual for Submarine Mining, p. 51, and an introduction to IEEE
    # 485: 21.0 V. Float 2.27 ± 0.03, sealed: a battery chart, 27.2 ± 0.4 V.
    # Boost up to 2.45 V: a question-and-answer page, 29.4 V
    found = window(Supply(), Battery())
    assert found.discharged == pytest.approx(21.0)
    assert found.floating == pytest.approx(27.2, abs=0.4)
    assert found.boosted == pytest.approx(29.4)


def test_a_systems_least_voltage_over_its_cells_is_a_cells():
    # IEEE 485 (from memory): 105 V over 60 cells is 1.75 V
    assert Battery().end_cell_volts == 105 / 60


def test_a_charger_without_boost_stays_on_float():
    found = window(Supply(), Battery(boost_cell_volts=2.0))
    assert found.boosted == found.floating


def test_without_a_battery_there_is_one_voltage():
    assert set(window(Supply(volts=24.0), None)) == {24.0}


def test_eighteen_volts_of_twenty_four():
    # common practice, no source: devices should run at 18 V and above on 24 V
    assert needed_volts(None, 24) == 18
    assert needed_volts(None, 12) == 9
    assert needed_volts(20.0, 24) == 20
