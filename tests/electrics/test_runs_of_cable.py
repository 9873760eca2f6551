"""Volts lost along a run: a published example, and the sum over its pieces."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.conductors import conductor
from controller.electrics.runs import amps_in_return, lost_bunched, lost_spread, spread_share
from controller.electrics.wire import ohms

AMPS = st.floats(0.001, 20)
OHMS = st.floats(0.001, 500)
NUMBERS = st.integers(1, 500)


def test_the_training_pages_example():
    # electrician2.com, a page that uses NEC Chapter 9 Table 8: 100 ft one way, 16 AWG stranded at
    # 4.99 Ω/kft, 4 A: "4.0 V; 16.7 % of 24 V", unrounded 3.992 V and 16.63 %
    assert lost_bunched(4, 2 * 4.99 * 100 / 1000) == pytest.approx(3.992)
    real = lost_bunched(4, 2 * ohms(conductor("16 AWG stranded"), 30.48, 75))
    assert real == pytest.approx(4.0, abs=0.05)
    assert real / 24 == pytest.approx(0.1663, abs=0.001)


def test_the_wiring_guides_example():
    # wiring/circuits.md: 1.5 A over 50 m, 1.8 V in 1.5 mm², 5.4 V in 0.5 mm², IEC 60228 at 20 °C
    for wire, lost in (("1.5 mm2", 1.8), ("0.5 mm2", 5.4)):
        found = lost_bunched(1.5, 2 * ohms(conductor(wire), 50, 20))
        assert found == pytest.approx(lost, abs=0.05)


def piece_by_piece(amps: float, resistance: float, devices: int) -> float:
    """The drop at the last device, added up over the pieces between one device and the next."""
    piece, each = resistance / devices, amps / devices
    return sum(piece * each * beyond for beyond in range(devices, 0, -1))


@given(AMPS, OHMS, NUMBERS)
def test_spread_devices_lose_the_sum_over_the_pieces(amps, resistance, devices):
    found = lost_spread(amps, resistance, devices)
    assert found == pytest.approx(piece_by_piece(amps, resistance, devices))


@given(AMPS, OHMS, st.integers(2, 500))
def test_spread_loses_less_than_bunched_and_never_less_than_half(amps, resistance, devices):
    bunched = lost_bunched(amps, resistance)
    assert bunched / 2 < lost_spread(amps, resistance, devices) < bunched


def test_of_many_spread_devices_half_is_lost_and_of_one_all():
    assert spread_share(1) == 1
    assert spread_share(22) == 23 / 44
    assert spread_share(10_000) == pytest.approx(0.5, abs=1e-4)


@given(AMPS, st.floats(1, 4000), st.floats(0.5, 900))
def test_volts_at_the_end_fall_with_length(amps, metres, more):
    wire = conductor("0.75 mm2")
    near = lost_bunched(amps, 2 * ohms(wire, metres, 20))
    assert near < lost_bunched(amps, 2 * ohms(wire, metres + more, 20))


def test_a_shared_return_has_the_sum_of_the_currents():
    # Kirchhoff's first law; wiring guide's demo: south 1.25 A and gong 0.8 A
    assert amps_in_return([1.25, 0.8], None) == pytest.approx(2.05)
    assert amps_in_return([1.25, 0.8], 3.0) == pytest.approx(2.05)
    assert amps_in_return([1.25, 0.8], 2.0) == 2.0, "the supply gives no more"
