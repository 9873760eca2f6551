"""Fuses against published ratings and limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.conductors import conductor
from controller.electrics.figures import NotKnown
from controller.electrics.fuses import RATINGS, carrying, most_fuse_amps, opens


# NEC 240.4(D), small conductors, copper, at second hand; 18 and 16 AWG also 725.43 (2008)
@pytest.mark.parametrize(("awg", "amps"), [(18, 7), (16, 10), (14, 15), (12, 20), (10, 30)])
def test_the_largest_fuse_by_awg(awg, amps):
    assert most_fuse_amps(conductor(f"{awg} AWG")) == amps


def test_square_millimetres_go_by_the_awg_that_is_not_thicker():
    # 1.309 mm² is 16 AWG and 2.081 mm² is 14 AWG (areas: HyperPhysics wire gauges)
    assert most_fuse_amps(conductor("1.5 mm2")) == 10
    assert most_fuse_amps(conductor("1 mm2")) == 7
    assert most_fuse_amps(conductor("0.823 mm2")) == 7
    assert most_fuse_amps(conductor("2.5 mm2")) == 15


def test_cords_thinner_than_18_awg():
    # BS 7671 Table 4F3A, flexible cords, from memory: 0.5 mm² 3 A, 0.75 mm² 6 A
    assert most_fuse_amps(conductor("0.75 mm2")) == 6
    assert most_fuse_amps(conductor("0.5 mm2")) == 3
    with pytest.raises(NotKnown, match="24 AWG"):
        most_fuse_amps(conductor("24 AWG"))


def test_the_ratings_above_ten_amperes_are_necs():
    # NEC 240.6, at second hand
    above = [15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125]
    assert [one for one in RATINGS if one > 10] == above


def test_the_guides_example():
    # wiring/circuits.md, by practice for UL 248-14 fuses (from memory): north, 1.5 A, takes 2 A
    assert carrying(1.5)[0] == 2.0


def test_a_fuse_opens_at_twice_its_rating():
    # fuse derating guide (interfacebus.com): within 5 s at 200 % of rating, ratings up to 10 A
    assert opens(2.0, 4.0)
    assert not opens(2.0, 3.9)


@given(st.floats(0.001, 200))
def test_what_carries_a_load_is_at_most_three_quarters_used(load):
    fits = carrying(load)
    assert all(load <= 0.75 * rating for rating in fits)
    assert len(fits) == sum(rating >= load / 0.75 for rating in RATINGS)
