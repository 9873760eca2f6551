"""Seeded weeks: a few of them in every run of the tests, many in CI (`weeks.py`)."""

from __future__ import annotations

import os

import pytest
import weeks

WEEKS = int(os.environ.get("UNDERSTUDY_WEEKS", "4"))
FIRST = int(os.environ.get("UNDERSTUDY_WEEKS_FROM", "0"))


@pytest.mark.parametrize("seed", range(FIRST, FIRST + WEEKS))
def test_no_rule_is_broken_in_a_week_of_faults(seed):
    outcome = weeks.outcome_of(seed)
    assert not outcome.rule, (
        f"{outcome.rule}: {outcome.says}; python tests/simulation/weeks.py --seed {seed}"
    )
    assert outcome.impulses > 5_000
