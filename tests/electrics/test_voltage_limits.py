"""Published limits of extra-low voltage."""

from __future__ import annotations

import pytest

from controller.electrics.limits import LIMITS, class_2_fuse_amps, exceeded


def test_the_published_limits_for_ripple_free_dc():
    # IEC 61140: SELV 120 V. BS 7671 414.4.5, quoted: 60 V dry, 30 V elsewhere.
    # IEC 61558-2-8:2010: 33 V
    assert [limit.volts for limit in LIMITS] == [30, 33, 60, 120]


def test_twelve_cells_on_boost_are_below_all_of_them():
    assert exceeded(29.4) == ()


def test_what_is_above_a_limit_is_told_lowest_first():
    assert [limit.volts for limit in exceeded(58.8)] == [30, 33]
    assert [limit.volts for limit in exceeded(60.0)] == [30, 33]


# NEC Chapter 9 Table 11(B), not inherently limited, from memory: 5.0 A to 20 V, 100/V above;
# 4.17 A at 24 V, 3.68 A at 27.2 V
@pytest.mark.parametrize(("volts", "amps"), [(20, 5.0), (24, 4.17), (27.2, 3.68)])
def test_the_fuse_of_a_class_2_circuit(volts, amps):
    assert class_2_fuse_amps(volts) == pytest.approx(amps, abs=0.005)
