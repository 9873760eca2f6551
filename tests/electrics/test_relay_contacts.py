"""What a relay's contact makes and breaks."""

from __future__ import annotations

import pytest

from controller.electrics.contacts import coil_amps, make_amps


def test_a_coils_current_is_in_proportion_to_its_voltage():
    # by hand: 1.5 A at 24 V is 16 Ω, so 29.4 V (2.45 V a cell) drive 1.8375 A
    assert coil_amps(1.5, 24, 29.4) == pytest.approx(29.4 / 16)


def test_a_coil_closes_on_no_more_than_its_steady_current():
    # RL time constant article: the current rises, 63.2 % after one time constant
    assert make_amps(1.5, 24, None) == 1.5


def test_a_capacitor_over_the_contact_adds_what_its_resistor_lets_through():
    # "Relay Contact Protection Circuits": 0.5 to 1 Ω a volt, so 1 to 2 A whatever the voltage
    assert make_amps(1.5, 24, 24) == pytest.approx(2.5)
    assert make_amps(1.5, 24, 12) == pytest.approx(3.5)
