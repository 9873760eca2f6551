"""Fold and unfold give the same rings, date by date: for every tape, week, row and calendar."""

from __future__ import annotations

from datetime import time

from hypothesis import event, given, settings
from tape_weeks import SINCE, building, rings, taped, weekly, with_plans, with_tape

from controller.editing.tape_fold import NoTape, fold
from controller.editing.tape_unfold import unfold


@settings(max_examples=40)
@given(taped())
def test_a_tape_unfolded_and_folded_back_rings_the_same(text):
    house = building(text)
    before = rings(house)
    unfolded = with_plans(house, unfold(house, SINCE))
    assert unfolded.tape is None
    assert rings(unfolded) == before
    folded = with_tape(unfolded, fold(unfolded, SINCE))
    assert not folded.week
    assert rings(folded) == before


@settings(max_examples=80)
@given(weekly())
def test_a_week_that_folds_rings_the_same_and_so_does_its_tape_unfolded(text):
    house = building(text)
    try:
        found = fold(house, SINCE)
    except NoTape:  # that there is none is another test's matter
        event("no tape")
        return
    event("a tape")
    before = rings(house)
    folded = with_tape(house, found)
    assert rings(folded) == before
    assert rings(with_plans(folded, unfold(folded, SINCE))) == before


@settings(max_examples=40)
@given(weekly())
def test_a_week_beside_a_tape_is_unfolded_to_the_same_rings(text):
    house = building(text + "\n" if "[tape]" in text else f"{text}\n{TAPE}")
    assert rings(with_plans(house, unfold(house, SINCE))) == rings(house)


TAPE = '[tape]\nlength = "12h"\nfor = "4s"\n[tape.holes]\nnorth = ["08:30", "01:00"]\n'


@settings(max_examples=20)
@given(taped())
def test_wherever_the_mark_is_put_the_rings_are_the_same(text):
    house = building(text)
    unfolded = with_plans(house, unfold(house, SINCE))
    for starts in (time(6), time(17, 59)):
        folded = fold(unfolded, SINCE, starts=starts)
        assert folded.tape.starts.replace(second=0) == starts
        assert rings(with_tape(unfolded, folded)) == rings(house)
