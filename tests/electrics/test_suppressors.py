"""What is fitted against a coil's kick, and how long the coil then holds on."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.electrics.suppressors import advised, release_seconds, snubber, time_constant


def test_the_courses_time_constant():
    # RL circuit interactive: 100 mH, 100 Ω: 1.0 ms. A textbook: 7.50 mH, 3.00 Ω: 2.50 ms
    assert time_constant(0.100, 100) == pytest.approx(0.0010)
    assert time_constant(0.00750, 3.00) == pytest.approx(0.00250)


def test_the_textbooks_decay():
    # the same textbook's problem: from 10.0 A, 5.00 ms later 1.35 A (e⁻² × 10 = 1.3534)
    assert release_seconds(0.0025, 30, 0, 0.13534) == pytest.approx(0.005, rel=1e-4)


def test_a_thousandth_is_left_after_seven_time_constants():
    # textbook chapter 30, solution 51: 6.91 time constants to 0.1 %
    assert release_seconds(1, 24, 0, 0.001) == pytest.approx(6.91, abs=0.005)


# computed outside the program from the same equation: 24 V coil, τ = 5 ms, in ms
@pytest.mark.parametrize(
    ("hold", "diode", "with_zener"), [(0.1, 10.38, 2.93), (0.2, 7.51, 2.51), (0.3, 5.70, 2.12)]
)
def test_a_24_volt_coil(hold, diode, with_zener):
    assert release_seconds(0.005, 24, 0.7, hold) * 1000 == pytest.approx(diode, abs=0.005)
    assert release_seconds(0.005, 24, 24.7, hold) * 1000 == pytest.approx(with_zener, abs=0.005)


def test_a_zener_shortens_a_relays_release_as_measured():
    # "Relay dynamics measurements", March 2026: 12 V relay, 6.7 ms with a diode, 2.6 ms with
    # a diode and a 12 V zener, −61 %. A relay that lets go at 30 to 40 % of its current does so
    for hold in (0.3, 0.4):
        shorter = release_seconds(1, 12, 12.7, hold) / release_seconds(1, 12, 0.7, hold)
        assert shorter == pytest.approx(2.6 / 6.7, abs=0.03)


@given(st.floats(0.0001, 1), st.floats(5, 60), st.floats(0, 60), st.floats(0.01, 0.9))
def test_a_higher_clamp_lets_go_sooner(tau, volts, clamp, hold):
    slow = release_seconds(tau, volts, clamp, hold)
    assert release_seconds(tau, volts, clamp + 1, hold) < slow <= tau * log(1 / hold) * (1 + 1e-9)


def test_a_snubber_by_volts_and_amperes():
    # "Relay Contact Protection Circuits"; as the wiring guide has it for north, 24 V and 1.5 A
    assert snubber(24, 1.5) == (12, 24, 0.75, 1.5)


def test_a_diode_suits_one_polarity():
    # the same appendix: ten times the circuit's voltage; 1N4004 is 400 V (data sheet)
    for load in ("single", "single-stroke"):
        fit = advised(load, 29.4)
        assert (fit.kind, fit.volts) == ("diode", 400)
        assert str(fit) == "diode, 400 V reverse, across the load, cathode to +"


def test_an_alternating_line_never_has_a_plain_diode():
    fit = advised("alternating", 29.4)
    assert fit.kind == "bidirectional"
    assert "never a plain diode" in fit.never


@given(st.floats(5, 84))
def test_what_is_fitted_to_an_alternating_line_stands_off_the_boost_charge(volts):
    assert advised("alternating", volts).volts > volts


def test_a_trembler_has_no_diode_at_its_terminals():
    fit = advised("trembler", 29.4)
    assert fit.kind == "rc"
    assert "interrupter" in fit.never


def test_what_no_listed_part_stands_is_said():
    with pytest.raises(ValueError, match="no suppressor listed"):
        advised("alternating", 90)
    with pytest.raises(ValueError, match="no diode listed"):
        advised("single", 120)
