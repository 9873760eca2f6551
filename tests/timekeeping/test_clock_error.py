"""How wrong the clock may be by now, once nobody keeps it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.timekeeping.error import DRIFT_PPM, Correction, error_now, last_correction
from controller.timekeeping.kernel import KernelWord

SECOND = 10**9
HOUR = 3600 * SECOND
LOST = KernelWord(False, 16 * SECOND, why="no time server has put the clock right")
times = st.integers(0, 10**18)


def kept(error_ns: int) -> KernelWord:
    return KernelWord(True, error_ns)


def test_a_day_without_correction_costs_some_nine_seconds():
    """s/day = ppm × 0.0864 (reference values, clock discipline): 100 ppm are 8.64 s."""
    assert error_now(0, 0, 24 * HOUR) == 8_640_000_000


def test_the_error_at_the_loss_stays_in_it():
    assert error_now(SECOND, 5 * HOUR, 6 * HOUR) == SECOND + 360_000_000
    assert error_now(SECOND, 5 * HOUR, 5 * HOUR) == SECOND


def test_a_better_crystal_loses_less():
    """A temperature-compensated RTC of 2 ppm: 0.173 s a day (reference values, R 108)."""
    assert round(error_now(0, 0, 24 * HOUR, ppm=2) / 1e6) == 173


@given(st.integers(0, 10**12), times, times, times, st.integers(0, 1000))
def test_it_only_grows_and_never_faster_than_its_crystal(error, start, wait, more, ppm):
    first = error_now(error, start, start + wait, ppm)
    then = error_now(error, start, start + wait + more, ppm)
    assert error <= first <= then
    assert then - first <= more * ppm // 10**6 + 1


def test_the_first_word_that_the_clock_is_kept_counts_as_a_correction():
    assert last_correction(None, kept(1000), 7) == Correction(1000, 7, 1000)
    assert last_correction(None, LOST, 7) is None


def test_a_bound_that_only_grows_is_no_correction():
    first = last_correction(None, kept(1000), 0)
    later = last_correction(first, kept(501_000), SECOND)
    assert later == Correction(1000, 0, 501_000)


def test_a_bound_that_falls_is_one():
    before = Correction(1000, 0, 40_000_000)
    assert last_correction(before, kept(30_000_000), 9) == Correction(30_000_000, 9, 30_000_000)


def test_when_the_word_is_taken_back_the_last_correction_stands():
    before = Correction(1000, 5, 2_000_000_000)
    assert last_correction(before, LOST, 9 * HOUR) == before


def test_hours_after_the_last_answer_the_estimate_is_well_below_the_kernels_bound():
    """500 µs a second for the kernel's bound, a fifth of it for the estimate."""
    last = None
    for second in range(0, 4 * 3600, 60):
        bound = 500_000 * second
        word = kept(bound) if bound < 4 * SECOND else LOST
        last = last_correction(last, word, second * SECOND)
    assert last is not None
    assert error_now(last.error_ns, last.mono, 4 * HOUR) == 4 * 3600 * DRIFT_PPM * 1000
