"""Resistance of copper, against published tables at their own temperature."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.conductors import Conductor, conductor
from controller.electrics.wire import area_mm2, awg_mm2, ohms, ohms_per_km, thicker

KILOFEET = 0.3048  # km


# HyperPhysics wire gauges (after Floyd, Electric Circuit Fundamentals, 2nd ed.): solid, 20 °C.
# (AWG, circular mils, Ω/1000 ft)
@pytest.mark.parametrize(
    ("awg", "circular_mils", "per_kilofoot"),
    [
        (10, 10381, 0.9989), (12, 6529, 1.588), (14, 4106.8, 2.525), (16, 2582.9, 4.016),
        (18, 1624.3, 6.385), (20, 1021.5, 10.15), (22, 642.4, 16.14), (24, 404.01, 25.67),
    ],
)  # fmt: skip
def test_solid_awg_at_20_degrees(awg, circular_mils, per_kilofoot):
    assert awg_mm2(awg) == pytest.approx(circular_mils * 5.067075e-4, rel=1e-3)
    found = ohms_per_km(Conductor(awg, "AWG", "solid"), 20) * KILOFEET
    assert found == pytest.approx(per_kilofoot, rel=5e-4)


# ASTM B258: No. 36 is 0.0050 in, No. 0000 (n = −3) is 0.4600 in
@pytest.mark.parametrize(("awg", "inches"), [(36, 0.005), (-3, 0.46)])
def test_awg_is_anchored_at_both_ends(awg, inches):
    assert (awg_mm2(awg) * 4 / 3.141592653589793) ** 0.5 == pytest.approx(inches * 25.4)


# NEC (NFPA 70) Chapter 9 Table 8, copper uncoated, Ω/kft: of 75 °C, not of 20 °C
@pytest.mark.parametrize(
    ("awg", "solid", "stranded"),
    [(18, 7.77, 7.95), (16, 4.89, 4.99), (14, 3.07, 3.14), (12, 1.93, 1.98), (10, 1.21, 1.24)],
)
def test_awg_at_75_degrees_is_table_8(awg, solid, stranded):
    # the solid column to its last figure; strands by a mean of all sizes, so to half a per cent
    found = ohms_per_km(Conductor(awg, "AWG", "solid"), 75) * KILOFEET
    assert found == pytest.approx(solid, abs=0.0065)
    found = ohms_per_km(Conductor(awg, "AWG", "stranded"), 75) * KILOFEET
    assert found == pytest.approx(stranded, rel=4.5e-3)


def test_table_8_taken_for_a_cool_line_would_overstate_by_some_22_per_cent():
    wire = conductor("14 AWG")
    assert ohms_per_km(wire, 75) / ohms_per_km(wire, 20) == pytest.approx(1.22, abs=0.005)


# IEC 60228, most at 20 °C, plain annealed copper, classes 1, 2 and 5 (a cable maker's Tables A.1
# and A.2; "IEC 60228 DC Resistance"; "Conductor resistance, DIN VDE 0295 / IEC 60228 / HD 383")
@pytest.mark.parametrize(
    ("size", "of_class"),
    [
        (0.5, (36.0, 36.0, 39.0)), (0.75, (24.5, 24.5, 26.0)), (1, (18.1, 18.1, 19.5)),
        (1.5, (12.1, 12.1, 13.3)), (2.5, (7.41, 7.41, 7.98)), (4, (4.61, 4.61, 4.95)),
    ],
)  # fmt: skip
def test_square_millimetres_by_class(size, of_class):
    made = [conductor(f"{size} mm2{make}") for make in ("", " stranded", " flexible")]
    assert tuple(ohms_per_km(wire, 20) for wire in made) == of_class


# BS 7671 Appendix 4, 70 °C twin, mV a metre and ampere: what both conductors lose
@pytest.mark.parametrize(("size", "published"), [("1.5", 29), ("2.5", 18), ("4", 11)])
def test_warm_cable_is_bs_7671s(size, published):
    assert 2 * ohms_per_km(conductor(f"{size} mm2"), 70) == pytest.approx(published, abs=0.5)


# IEC 60228's factors to 20 °C, as listed by a cable maker: 0.004 a kelvin, so 0.4 % off at the most
@pytest.mark.parametrize(
    ("celsius", "factor"), [(5, 1.064), (10, 1.042), (30, 0.962), (40, 0.926), (70, 0.833)]
)
def test_temperature_is_iec_60228s_within_what_its_rounder_coefficient_makes(celsius, factor):
    wire = conductor("1.5 mm2")
    found = ohms_per_km(wire, 20) / ohms_per_km(wire, celsius)
    assert found == pytest.approx(factor, rel=4.5e-3)


def test_copper_is_not_better_than_annealed_copper():
    # "One web formula uses 0.0164 Ω·mm²/m, lower than pure copper": 1/58 is IEC 60028's
    for wire in (conductor("1 mm2"), conductor("6 mm2"), conductor("18 AWG")):
        assert ohms_per_km(wire, 20) * area_mm2(wire) / 1000 >= 1 / 58 - 1e-12


SIZES = st.one_of(
    st.tuples(st.sampled_from([0.14, 0.22, 0.34, 0.5, 0.6, 0.75, 1, 1.5, 2, 2.5, 4, 6, 10]),
              st.just("mm2")),
    st.tuples(st.integers(8, 30), st.just("AWG")),
)  # fmt: skip
MAKES = st.sampled_from(["solid", "stranded", "flexible"])


@given(SIZES, MAKES, st.floats(-20, 90), st.floats(0.5, 60))
def test_resistance_rises_with_temperature(size, make, celsius, warmer):
    wire = Conductor(*size, make)
    assert ohms_per_km(wire, celsius) < ohms_per_km(wire, celsius + warmer)


@given(SIZES, MAKES, st.floats(-20, 90))
def test_resistance_falls_with_area(size, make, celsius):
    wire = Conductor(*size, make)
    for other in thicker(wire):
        assert area_mm2(other) > area_mm2(wire)
        assert ohms_per_km(other, celsius) < ohms_per_km(wire, celsius)


@given(SIZES, MAKES, st.floats(1, 5000), st.floats(1, 5000))
def test_resistance_is_in_proportion_to_length(size, make, metres, more):
    wire = Conductor(*size, make)
    whole = ohms(wire, metres, 20) + ohms(wire, more, 20)
    assert ohms(wire, metres + more, 20) == pytest.approx(whole)
