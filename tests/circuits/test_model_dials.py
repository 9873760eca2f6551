"""Model dials, for the fake board and the rehearsal alike, over many impulses."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from controller.dials.modelled import after_impulse, heeds, model_dials, needed_ns

SECOND = 1_000_000_000
HALF_DAY = 720  # positions of a face of 12 h, a minute each
POLARITIES = st.sampled_from("+-")


def shown(dials):
    return [dial.shows for dial in dials]


def test_the_share_that_a_dial_needs_is_never_rounded_down():
    third, half, most = model_dials(0, "-")
    assert (needed_ns(third, 1), needed_ns(half, 3), needed_ns(most, 11)) == (1, 2, 8)


@given(st.lists(POLARITIES, max_size=40), POLARITIES)
def test_whole_impulses_keep_the_dials_together_and_count_the_changes_of_polarity(impulses, took):
    dials = model_dials(0, took)
    for polarity in impulses:
        dials = after_impulse(dials, polarity, SECOND, SECOND, HALF_DAY)
    changes = sum(a != b for a, b in zip([took, *impulses], impulses, strict=False))
    assert shown(dials) == [changes] * 3
    assert not any(heeds(dial, impulses[-1]) for dial in dials if impulses)


@given(st.lists(st.integers(0, 2 * SECOND), max_size=40))
def test_given_whole_again_what_was_cut_short_brings_all_dials_to_the_same_place(lasted):
    """Rule 13: on an alternating line a repeat makes good whatever the cut left undone."""
    dials = model_dials(0, "-")
    for number, cut_after in enumerate(lasted):
        polarity = "-" if number % 2 else "+"
        dials = after_impulse(dials, polarity, cut_after, SECOND, HALF_DAY)
        dials = after_impulse(dials, polarity, SECOND, SECOND, HALF_DAY)
        assert shown(dials) == [number + 1] * 3
