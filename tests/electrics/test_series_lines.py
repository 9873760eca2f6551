"""Dials in series: current, resistor and its heat."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.electrics.series import dropping_ohms, loop_amps, watts


def test_the_courses_loop():
    # RL circuit interactive (a university's course page): 5 V, 100 Ω: 50 mA
    assert loop_amps(5, 100) == pytest.approx(0.050)


def test_a_resistor_takes_what_the_coils_leave():
    # by hand, from Ohm's law: 24 V for 0.2 A is 120 Ω, of which coils and wire have 48
    assert dropping_ohms(24, 0.2, 48) == pytest.approx(72)
    assert watts(0.2, 72) == pytest.approx(2.88)


def test_too_few_volts_leave_less_than_nothing_for_a_resistor():
    assert dropping_ohms(24, 0.2, 130) < 0


@given(st.floats(1, 60), st.floats(0.001, 5), st.floats(0.1, 500))
def test_the_resistor_sets_the_current(volts, amps, loop):
    resistor = dropping_ohms(volts, amps, loop)
    assert loop_amps(volts, loop + resistor) == pytest.approx(amps)
