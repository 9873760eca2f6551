"""Model dials: which impulses they take (design §6: 30, 50 and 70 % of the set length)."""

from __future__ import annotations

import pytest

from controller.dials.modelled import after_impulse, model_dials

MS = 1_000_000
LENGTH = 1_000 * MS


@pytest.mark.parametrize(
    ("lasted_ms", "moved"), [(299, 0), (300, 1), (499, 1), (500, 2), (699, 2), (700, 3), (1000, 3)]
)
def test_an_impulse_is_taken_from_its_share_on(lasted_ms, moved):
    dials = after_impulse(model_dials(5, "-"), "+", lasted_ms * MS, LENGTH, 720)
    assert [dial.shows for dial in dials] == [6] * moved + [5] * (3 - moved)
    assert [dial.took for dial in dials] == ["+"] * moved + ["-"] * (3 - moved)


def test_the_same_polarity_again_moves_only_those_that_had_not_taken_it():
    cut = after_impulse(model_dials(5, "-"), "+", 400 * MS, LENGTH, 720)
    again = after_impulse(cut, "+", LENGTH, LENGTH, 720)
    assert {(dial.shows, dial.took) for dial in again} == {(6, "+")}


def test_a_dial_of_a_single_line_takes_each():
    dials = model_dials(719, "")
    for _ in range(2):
        dials = after_impulse(dials, "", LENGTH, LENGTH, 720)
    assert {dial.shows for dial in dials} == {1}, "719, 0, 1"
