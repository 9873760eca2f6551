"""Dials drawn against true time: where a line is not right, and the course it takes."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise

import pytest
from sheets_read import outside, sheet, told, words

from controller.dials.position import true_position
from controller.pictures.dials import (
    Dials,
    Impulse,
    LineEnd,
    LineStory,
    Regular,
    SystemClock,
    course,
    length_text,
    united,
)
from controller.pictures.dials_svg import dials_svg

SECOND = 10**9
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE

HOUSE = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [22, 23]
"""


@pytest.fixture(scope="module")
def house(building_of):
    return building_of(HOUSE)


def at(house, local: str) -> int:
    return house.civil.instant(datetime.fromisoformat(local))


def story_of(house, start: int, until: int, impulses, shown: int | None = None, shifts=()):
    """The line told these impulses; without `shown` it is right at first."""
    line, clock = house.lines["main"], SystemClock(house.civil, shifts)
    if shown is None:
        shown = true_position(line, house.civil, start)
    story = LineStory("main", line, clock, start, shown)
    for impulse in impulses:
        story.tell(impulse)
    story.end(until)
    return story


def each_minute(house, start: int, until: int) -> list[Impulse]:
    line = house.lines["main"]
    first = -(-start // MINUTE) * MINUTE
    return [
        Impulse(now, true_position(line, house.civil, now)) for now in range(first, until, MINUTE)
    ]


def drawn(house, story: LineStory, until: int, dark=()) -> Dials:
    ends = {"main": LineEnd(("08:30",), True, False)}
    return Dials("Elm House", story.clock, story.start, until, (story,), ends, tuple(dark))


def test_a_line_that_is_right_throughout_has_nothing_to_draw(house):
    start, until = at(house, "2026-11-25T08:00:30"), at(house, "2026-11-27T08:00")
    story = story_of(house, start, until, each_minute(house, start, until))
    assert story.stretches == []
    assert [type(one) for one in story.told] == [Regular]  # two days are kept as one stretch
    dials = drawn(house, story, until)
    assert dials.windows == []
    assert "All dials were right throughout." in words(sheet(dials_svg(dials)))


def test_a_cut_is_not_right_from_the_first_impulse_that_is_missing_until_the_last_that_is_driven(
    house,
):
    start, until = at(house, "2026-11-25T08:00:30"), at(house, "2026-11-25T09:00")
    before = each_minute(house, start, at(house, "2026-11-25T08:29:30"))
    back = at(house, "2026-11-25T08:34:20")
    driven = [Impulse(back + 2 * SECOND * n, 510 + n) for n in range(5)]  # 08:30 … 08:34
    after = each_minute(house, at(house, "2026-11-25T08:35"), until)
    story = story_of(house, start, until, [*before, *driven, *after])
    (stretch,) = story.stretches
    assert stretch.start == at(house, "2026-11-25T08:30")
    assert stretch.end == driven[-1].at
    assert stretch.words == "driven, 5 impulses"
    dark = (at(house, "2026-11-25T08:29:30"), back)
    dials = drawn(house, story, until, [dark])
    (window,) = dials.windows
    assert window[0] < dark[0]
    assert window[1] > stretch.end
    root = sheet(dials_svg(dials))
    assert not [*outside(root)]
    assert "off 4 min 50 s, 5 not given" in words(root)
    assert "08:30:00 to 08:34:28: driven, 5 impulses" in told(root)


def test_spring_is_a_catch_up_and_autumn_a_wait(house):
    start, change = at(house, "2027-03-14T01:00:30"), at(house, "2027-03-14T03:00")
    until = at(house, "2027-03-14T05:00")
    driven = [Impulse(change + 2 * SECOND * n, 120 + n) for n in range(63)]  # 02:00 … 03:02
    rest = each_minute(house, driven[-1].at + SECOND, until)
    spring = story_of(house, start, until, [*each_minute(house, start, change), *driven, *rest])
    (stretch,) = spring.stretches
    assert (stretch.start, stretch.end) == (change, driven[-1].at)
    assert stretch.words == "driven, 63 impulses"

    change = at(house, "2026-11-01T01:00") + HOUR  # the second 01:00
    start, until = change - HOUR, change + 3 * HOUR
    autumn = story_of(
        house,
        start,
        until,
        [*each_minute(house, start + MINUTE, change), *each_minute(house, change + HOUR, until)],
    )
    (stretch,) = autumn.stretches
    assert (stretch.start, stretch.end) == (change, change + 59 * MINUTE)
    assert stretch.words == "waits 59 min"
    assert "clocks go back 60m" in words(sheet(dials_svg(drawn(house, autumn, until))))


def test_dials_that_are_never_brought_right_are_not_right_to_the_end(house):
    start, until = at(house, "2026-11-25T08:00:30"), at(house, "2026-11-25T09:00")
    story = story_of(house, start, until, [], shown=0)
    assert [(one.start, one.end) for one in story.stretches] == [(start, until)]


def test_true_time_is_that_of_a_clock_that_was_stepped(house):
    start, until = at(house, "2026-11-25T08:00:30"), at(house, "2026-11-25T09:00")
    step = at(house, "2026-11-25T08:30:30")
    before = each_minute(house, start, step)
    later = [Impulse(one.at + 10 * MINUTE, one.shows) for one in each_minute(house, step, until)]
    told_late = [one for one in later if one.at < until]
    shifts = [(start, 0), (step, -10 * MINUTE)]
    story = story_of(house, start, until, [*before, *told_late], shifts=shifts)
    (stretch,) = (
        story.stretches
    )  # ahead by ten minutes, and so it waits for them but a minute's rest
    assert stretch.start == step
    assert stretch.words == "waits 9 min 30 s"
    assert "clock stepped by −10m" in words(sheet(dials_svg(drawn(house, story, until))))


# ── the course ───────────────────────────────────────────────────────────────────────────────────


def test_the_course_has_every_impulse_of_its_window_and_only_rises(house):
    start, until = at(house, "2026-11-25T08:00:30"), at(house, "2026-11-26T08:00")
    impulses = each_minute(house, start, until)
    del impulses[700:703]
    impulses[700:700] = [
        Impulse(impulses[700].at - 6 * SECOND + 2 * SECOND * n, (1181 + n) % 720) for n in range(3)
    ]
    story = story_of(house, start, until, impulses)
    window = (at(house, "2026-11-25T19:00"), at(house, "2026-11-25T21:00"))
    its = course(story, window)
    within = [one for one in impulses if window[0] <= one.at < window[1]]
    assert [moment for moment, _ in its.steps[1:]] == [one.at for one in within]
    assert all(after - before == MINUTE for (_, before), (_, after) in pairwise(its.steps))
    assert [height // MINUTE % 720 for _, height in its.steps[1:]] == [one.shows for one in within]
    last = [one for one in impulses if one.at < window[0]][-1]
    assert its.steps[0][1] // MINUTE % 720 == last.shows


def test_an_impulse_cut_short_and_given_again_is_marked(house):
    start, until = at(house, "2026-11-25T08:28:30"), at(house, "2026-11-25T08:40")
    impulses = each_minute(house, start, until)
    cut = impulses[1]._replace(cut=True)
    again = Impulse(cut.at + 30 * SECOND, cut.shows, again=True)
    story = story_of(house, start, until, [impulses[0], cut, again, *impulses[2:]])
    assert story.stretches == []
    its = course(story, (start, until))
    assert [one.cut for one, _ in its.marks] == [True, False]
    assert its.marks[0][1] == its.marks[1][1]


def test_a_month_without_power_is_drawn_on_one_sheet(house):
    start, until = at(house, "2026-11-01T08:00:30"), at(house, "2026-12-05T08:00")
    off, on = at(house, "2026-11-02T08:00:20"), at(house, "2026-12-04T08:00:20")
    gone = [*each_minute(house, start, off), *each_minute(house, on, until)]
    text = dials_svg(drawn(house, story_of(house, start, until, gone), until, [(off, on)]))
    assert len(text) < 200_000
    assert not [*outside(sheet(text))]


# ── small things ─────────────────────────────────────────────────────────────────────────────────


def test_spans_that_meet_are_one():
    assert united([(5, 7), (0, 2), (2, 3), (6, 6)]) == [(0, 3), (5, 7)]


def test_lengths_are_said_in_their_two_greatest_units():
    assert length_text(59 * MINUTE) == "59 min"
    assert length_text(5 * MINUTE + 20 * SECOND) == "5 min 20 s"
    assert length_text(76 * HOUR + MINUTE) == "3 d 4 h"
    assert length_text(SECOND // 2) == "under 1 s"


def test_an_end_says_whether_it_is_right_and_certain():
    assert LineEnd(("08:30",), True, False).words == "08:30, right"
    assert LineEnd(("08:29", "08:30"), False, True).words == "08:29 | 08:30, wrong, doubtful"
