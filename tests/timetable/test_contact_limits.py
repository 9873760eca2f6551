"""The two limits on a bell's contact, against a plain second-by-second simulation."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import example, given, settings
from hypothesis import strategies as st

from controller.building.closings import union
from controller.timetable.contact import MINUTE, closed_within, cut_at, first_excess, moved

SECOND = 1_000_000_000
at_any_pace = settings(deadline=None)


def seconds(*closings: tuple[float, float]) -> list[tuple[int, int]]:
    return [(round(start * SECOND), round(end * SECOND)) for start, end in closings]


@st.composite
def apart(draw, unit: int, most: int = 12, longest: int = 90) -> list[tuple[int, int]]:
    """Closings in order and apart, all times whole multiples of `unit` ns."""
    at, closings = 0, []
    for rest, length in draw(
        st.lists(st.tuples(st.integers(1, 70), st.integers(1, longest)), max_size=most)
    ):
        at += rest
        closings.append((at * unit, (at + length) * unit))
        at += length
    return closings


@st.composite
def histories(draw, unit: int):
    """Closings already given, under the limits, closings still asked for, and the limits."""
    longest = draw(st.integers(1, 80))
    a_minute = draw(st.integers(1, 60))
    every = draw(apart(unit))
    split = draw(st.integers(0, len(every)))
    before = every[:split]
    excess = first_excess(before, [], longest * unit, a_minute * unit)
    if excess is not None:
        before = list(cut_at(before, excess[0]))
    return before, every[split:], longest * unit, a_minute * unit


# ── union, moved, cut_at, closed_within ──────────────────────────────────────────────────────────

loose = st.lists(
    st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda c: (c[0], c[0] + c[1])), max_size=8
)


@at_any_pace
@given(loose)
def test_the_contact_is_closed_whenever_any_closing_would_close_it(closings):
    merged = union(closings)
    assert {t for a, b in merged for t in range(a, b)} == {
        t for a, b in closings for t in range(a, b)
    }
    assert all(former[1] < latter[0] for former, latter in pairwise(merged))


@at_any_pace
@given(loose, st.integers(0, 80))
def test_a_cut_leaves_what_lay_before_it_and_nothing_after(closings, instant):
    merged = union(closings)
    left = {t for a, b in cut_at(merged, instant) for t in range(a, b)}
    assert left == {t for a, b in merged for t in range(a, b) if t < instant}


@at_any_pace
@given(loose, st.integers(0, 80), st.integers(0, 80))
def test_closed_within_counts_the_closed_time_of_a_span(closings, start, length):
    merged = union(closings)
    counted = sum(1 for t in range(start, start + length) if any(a <= t < b for a, b in merged))
    assert closed_within(merged, start, start + length) == counted


@at_any_pace
@given(loose, st.integers(-50, 50))
def test_moving_closings_and_moving_them_back_changes_nothing(closings, by):
    merged = union(closings)
    assert moved(moved(merged, by), -by) == merged


# ── first_excess ─────────────────────────────────────────────────────────────────────────────────


def simulated(before, asked, longest, a_minute) -> int | None:
    """The first second at which the contact must open, by trying every second. Times in seconds."""
    closed = {t for a, b in before for t in range(a, b)}
    for a, b in asked:
        for t in range(a, b):
            run = t - a + 1
            minute = 1 + sum(1 for u in range(t - 59, t) if u in closed)
            if run > longest or minute > a_minute:
                return t
            closed.add(t)
    return None


@at_any_pace
@given(histories(SECOND))
@example(([], seconds((0, 10)), 10 * SECOND, 30 * SECOND))
@example((seconds((0, 30)), seconds((60, 70)), 40 * SECOND, 30 * SECOND))
@example((seconds((0, 30)), seconds((59, 70)), 40 * SECOND, 30 * SECOND))
def test_the_instant_of_excess_is_the_one_that_trying_every_second_finds(history):
    before, asked, longest, a_minute = history
    whole = [[(a // SECOND, b // SECOND) for a, b in closings] for closings in (before, asked)]
    expected = simulated(*whole, longest // SECOND, a_minute // SECOND)
    excess = first_excess(asked, before, longest, a_minute)
    assert (None if excess is None else excess[0]) == (
        None if expected is None else expected * SECOND
    )


def keeps_both_limits(closings, longest: int, a_minute: int) -> bool:
    """The fullest 60 s begin where a closing begins or end where one ends."""
    starts = [a for a, _ in closings] + [b - MINUTE for _, b in closings]
    return all(b - a <= longest for a, b in closings) and all(
        closed_within(closings, start, start + MINUTE) <= a_minute for start in starts
    )


@at_any_pace
@given(histories(SECOND // 7))
def test_a_sounding_cut_there_keeps_both_limits_and_a_nanosecond_later_would_not(history):
    before, asked, longest, a_minute = history
    excess = first_excess(asked, before, longest, a_minute)
    if excess is None:
        assert keeps_both_limits([*before, *asked], longest, a_minute)
    else:
        instant, _ = excess
        assert keeps_both_limits([*before, *cut_at(asked, instant)], longest, a_minute)
        assert not keeps_both_limits([*before, *cut_at(asked, instant + 1)], longest, a_minute)


def test_where_one_closing_is_too_long_the_reason_is_longest():
    assert first_excess(seconds((5, 20)), [], 10 * SECOND, 30 * SECOND) == (15 * SECOND, "longest")


def test_where_many_closings_add_up_the_reason_is_a_minute():
    closings = seconds((0, 10), (12, 22), (24, 34))
    assert first_excess(closings, [], 10 * SECOND, 25 * SECOND) == (29 * SECOND, "a-minute")


def test_closings_a_minute_apart_do_not_add_up():
    assert first_excess(seconds((60, 90)), seconds((0, 30)), 30 * SECOND, 30 * SECOND) is None


def test_a_minute_that_is_full_already_leaves_nothing_of_the_next_closing():
    excess = first_excess(seconds((40, 45)), seconds((0, 30)), 30 * SECOND, 30 * SECOND)
    assert excess == (40 * SECOND, "a-minute")


def test_a_closing_that_goes_on_from_one_already_given_is_the_same_closing():
    excess = first_excess(seconds((10, 20)), seconds((0, 10)), 15 * SECOND, 60 * SECOND)
    assert excess == (15 * SECOND, "longest")
    in_pieces = seconds((0, 4), (4, 10))
    assert first_excess(seconds((10, 20)), in_pieces, 15 * SECOND, 60 * SECOND) == excess


def test_where_the_last_minute_is_over_full_already_nothing_more_is_given():
    """As after a reload that lowers `a_minute`."""
    excess = first_excess(seconds((60, 65)), seconds((0, 30)), 30 * SECOND, 20 * SECOND)
    assert excess == (60 * SECOND, "a-minute")
