"""The power goes while an impulse is out: some dials took it, others not. It is given again."""

from __future__ import annotations

import pytest
from stories import ALTERNATING, HALIFAX, SINGLE, Told

DAY = "2026-11-25"
FROM, UNTIL = f"{DAY}T08:30", f"{DAY}T08:35"


def played(stage, line: str, second: float, off: float = 10) -> Told:
    """A cut so many seconds into the impulse of 08:31; the engine is up 20 s after the power."""
    return stage.play(HALIFAX + line, FROM, UNTIL, cuts=[(f"{DAY}T08:31:0{second}", off)])


def told_impulses(told: Told) -> list[tuple[str, str, str, bool, bool]]:
    return [
        (at, one.polarity, one.shows, one.again, one.cut)
        for at, one in zip(told.times(told.impulses), told.impulses, strict=True)
    ]


@pytest.mark.parametrize("second", [0.1, 0.4, 0.6, 0.9])
def test_on_an_alternating_line_the_repeat_joins_the_dials(stage, second):
    told = played(stage, ALTERNATING, second)
    # the power is back 10 s later, the engine 20 s after that; a new hand first rests a gap of 1 s
    again = f"08:31:{second + 31:.3f}"
    assert told_impulses(told)[:3] == [
        ("08:31:00", "+", "08:31", False, True),
        (again, "+", "08:31", True, False),
        ("08:32:00", "-", "08:32", False, False),
    ]
    assert told.end.lines["main"] == (("08:34",), True, False)


def test_before_the_repeat_the_dials_differ(stage):
    told = stage.play(
        HALIFAX + ALTERNATING, FROM, f"{DAY}T08:31:30", cuts=[(f"{DAY}T08:31:00.4", 10)]
    )
    assert told.end.lines["main"] == (("08:31", "08:30"), False, False), "30 % took it; 50, 70 not"


@pytest.mark.parametrize(
    ("second", "shows", "right"),
    [
        (0.1, ("08:33",), False),  # none took it, and it counts as taken
        (0.4, ("08:34", "08:33"), False),
        (0.9, ("08:34",), True),
    ],
)
def test_on_a_single_line_it_counts_as_taken_and_the_line_is_doubtful(stage, second, shows, right):
    told = played(stage, SINGLE, second)
    assert told_impulses(told)[:2] == [
        ("08:31:00", "", "08:31", False, True),
        ("08:32:00", "", "08:32", False, False),
    ]
    assert not any(one.again for one in told.impulses)
    assert told.end.lines["main"] == (shows, right, True)


def test_three_cuts_within_a_minute(stage):
    cuts = [(f"{DAY}T08:31:00.4", 1), (f"{DAY}T08:31:22.8", 1), (f"{DAY}T08:31:45.2", 1)]
    told = stage.play(HALIFAX + ALTERNATING, FROM, UNTIL, cuts=cuts)
    # up at 21.4, 43.8 and 66.2, each time a gap of 1 s later the repeat; two are cut like the first
    assert told_impulses(told)[:5] == [
        ("08:31:00", "+", "08:31", False, True),
        ("08:31:22.400", "+", "08:31", True, True),
        ("08:31:44.800", "+", "08:31", True, True),
        ("08:32:07.200", "+", "08:31", True, False),
        ("08:32:09.200", "-", "08:32", False, False),
    ]
    assert told.end.lines["main"] == (("08:34",), True, False)


def test_an_impulse_stored_and_not_begun_is_given_after_the_cut(stage):
    told = stage.play(HALIFAX + ALTERNATING, FROM, UNTIL, cuts=[(f"{DAY}T08:30:59.5", 5)])
    assert told_impulses(told)[0] == ("08:31:25.500", "+", "08:31", True, False)
    assert told.end.lines["main"] == (("08:34",), True, False)


@pytest.mark.parametrize("line", [ALTERNATING, SINGLE])
def test_a_cut_between_impulses_is_caught_up(stage, line):
    told = stage.play(HALIFAX + line, FROM, f"{DAY}T08:37", cuts=[(f"{DAY}T08:31:10", 180)])
    shows = [
        (at, one.shows) for at, one in zip(told.times(told.impulses), told.impulses, strict=True)
    ]
    if line == ALTERNATING:
        # that 08:31 had ended would have been stored with 08:32; so it is given again, and ignored
        assert told_impulses(told)[1] == ("08:34:31", "+", "08:31", True, False)
        assert shows[2:5] == [("08:34:33", "08:32"), ("08:34:35", "08:33"), ("08:34:37", "08:34")]
    else:
        assert shows[1:4] == [("08:34:31", "08:32"), ("08:34:33", "08:33"), ("08:34:35", "08:34")]
    assert told.end.lines["main"] == (("08:36",), True, False)


def test_a_cut_across_the_spring_change(stage):
    told = stage.play(
        HALIFAX + ALTERNATING,
        "2026-03-08T01:50",
        "2026-03-08T03:30",
        cuts=[("2026-03-08T01:59:00.4", 600)],
    )
    assert told.impulses[9].again
    assert told.impulses[9].at == told.at("2026-03-08T03:09:21.4")  # 01:59:00.4 + 10 m 21 s
    assert told.end.lines["main"] == (("03:29",), True, False)


def test_a_cut_across_the_autumn_change(stage):
    told = stage.play(
        HALIFAX + ALTERNATING,
        "2026-11-01T01:50-03:00",
        "2026-11-01T02:05",
        cuts=[("2026-11-01T01:59:00.4-03:00", 600)],
    )
    given = told_impulses(told)
    assert given[9:11] == [
        ("01:09:21.400", "+", "01:59", True, False),
        ("02:00:00", "-", "02:00", False, False),
    ], "the repeat is given at once; then the dials stand"
    assert told.end.lines["main"] == (("02:04",), True, False)


def test_a_cut_in_a_catch_up(stage):
    told = stage.play(
        HALIFAX + ALTERNATING,
        "2026-03-08T01:50",
        "2026-03-08T03:30",
        cuts=[("2026-03-08T03:01:00.6", 30)],
    )
    assert sum(one.again for one in told.impulses) == 1
    assert told.end.lines["main"] == (("03:29",), True, False)


def test_power_that_is_away_at_the_end_comes_back_for_what_began(stage):
    told = stage.play(
        HALIFAX + ALTERNATING, FROM, f"{DAY}T08:31:05", cuts=[(f"{DAY}T08:31:00.4", 60)]
    )
    assert told_impulses(told) == [("08:31:00", "+", "08:31", False, True)]
    assert told.end.lines["main"].shows == ("08:31", "08:30")
