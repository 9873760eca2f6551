"""One seed decides everything: a week is the same to its last line, and a failure is made short."""

from __future__ import annotations

import pytest
import weeks
from simulator.seeds import week_of
from simulator.shrink import only, shortened
from simulator.told import failure_of
from simulator.week import judged
from simulator.words import DAY, HOUR

from controller.engine import recover
from controller.engine.lines import taken


def two_days(seed: int):
    """The first two days of a week, and half a quiet one."""
    week = week_of(seed)
    faults = tuple(one for one in week.faults if one.at < 2 * DAY)
    return week._replace(faults=faults, cease=2 * DAY, end=2 * DAY + 6 * HOUR)


@pytest.mark.parametrize("seed", [10, 11])  # 10 has the controller's own store
def test_a_week_is_the_same_to_its_last_line(seed):
    once, again = (weeks.run(two_days(seed)) for _ in range(2))
    assert once.trace == again.trace
    assert len(once.trace) > 5_000


def test_two_seeds_are_two_weeks():
    assert week_of(1).faults != week_of(2).faults
    assert week_of(1).house.texts != week_of(2).house.texts


def test_a_failing_week_is_made_short_and_told_with_its_command(monkeypatch):
    monkeypatch.setattr(
        recover, "_after_a_crash", lambda row, *_: taken(row, row.step) if row.step else row
    )
    week = next(w for w in map(two_days, range(40)) if judged(w).violation)
    verdict = judged(week)
    kept, its = shortened(week, verdict.violation.rule, judged)
    assert 1 <= len(kept) <= 3 < len(week.faults)
    assert its.violation.rule == verdict.violation.rule
    assert judged(only(week, kept)).violation.says == its.violation.says
    said = failure_of(week, kept, its)
    assert f"weeks.py --seed {week.seed} --only {','.join(map(str, kept))}" in said
    assert its.violation.says in said


def test_the_command_replays_a_week(capsys):
    assert weeks.main(["--seed", "11", "--only", "none", "--lines", "3"]) == 0
    assert "No rule was broken." in capsys.readouterr().out
