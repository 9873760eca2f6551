"""Peukert's law in both its forms, sums of loads, and ageing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.electrics.battery import (
    amp_hours_needed,
    amp_hours_of,
    hours_lasting,
    with_ageing,
)


def test_capacity_rated_over_twenty_hours():
    # oracletutoring.ca, battery output against discharge rate: 120 Ah at 20 h, k = 1.4, 120 A:
    # 0.30 h, about 18 min
    assert hours_lasting(120, 120, 20, 1.4) == pytest.approx(0.30, abs=0.005)


# With the capacity at 1 A, t = Cp / I^k: as many hours as ampere-hours
@pytest.mark.parametrize(
    ("amp_hours", "peukert", "amps", "hours"),
    [
        (100, 1.2, 5, 14.496),  # electrotechnik.net: 14.5 h
        (250, 1.3, 20, 5.088631644),  # easycalculation.com: that many h, 101.77 Ah effectively
    ],
)
def test_capacity_at_one_ampere(amp_hours, peukert, amps, hours):
    found = hours_lasting(amps, amp_hours, amp_hours, peukert)
    assert found == pytest.approx(hours, rel=1e-4)
    assert found * amps == pytest.approx(hours * amps, rel=1e-4)


def test_the_two_forms_are_not_interchangeable():
    # the trap: a 20-hour capacity read as if it were that at 1 A
    assert hours_lasting(5, 100, 20, 1.2) > 1.3 * hours_lasting(5, 100, 100, 1.2)


def test_at_its_rated_current_it_lasts_its_rated_hours():
    # "100 Ah @ C10" is 10 A for 10 h: an introduction to IEEE 485
    assert hours_lasting(10, 100, 10, 1.3) == pytest.approx(10)


def test_no_more_than_the_rated_capacity_is_counted_on():
    assert hours_lasting(0.5, 100, 20, 1.3) == pytest.approx(200)


def test_nfpa_72s_examples():
    # guide to NFPA 72: 0.42 A × 24 h + 3.8 A × 5/60 h = 10.397 Ah; × 1.2 = 12.48.
    # A study page: 6.125
    assert amp_hours_of([(0.42, 24), (3.8, 5 / 60)]) == pytest.approx(10.397, abs=5e-4)
    assert with_ageing(amp_hours_of([(0.42, 24), (3.8, 5 / 60)]), 1.2) == pytest.approx(
        12.48, abs=0.005
    )
    assert amp_hours_of([(0.25, 24), (1.5, 5 / 60)]) == pytest.approx(6.125)


LOADS = {
    "amps": st.floats(0.01, 200),
    "rate_hours": st.sampled_from([1.0, 5.0, 10.0, 20.0, 100.0]),
    "peukert": st.floats(1, 2),
}


@given(**LOADS, hours=st.floats(0.1, 500))
def test_the_battery_that_is_needed_lasts_as_long_as_it_must(amps, hours, rate_hours, peukert):
    needed = amp_hours_needed(amps, hours, rate_hours, peukert)
    assert hours_lasting(amps, needed, rate_hours, peukert) == pytest.approx(hours)


@given(**LOADS, amp_hours=st.floats(1, 2000))
def test_what_it_lasts_needs_that_battery(amps, amp_hours, rate_hours, peukert):
    lasts = hours_lasting(amps, amp_hours, rate_hours, peukert)
    assert amp_hours_needed(amps, lasts, rate_hours, peukert) == pytest.approx(amp_hours)
