"""What a person says of a line beyond hold and go: what was seen of it, what was done to it."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld, Stopped

from controller.dials.modelled import model_dials
from controller.engine.contract import NewBuilding
from controller.engine.wishes import (
    DriveLine,
    GoLine,
    HoldLine,
    LineMoved,
    LineRight,
    LineStood,
    LineSwapped,
    SetLine,
    StepLine,
)


def impulses(world: SmallWorld, line: str = "main") -> list[str]:
    """The polarity of each impulse."""
    return ["+-"[relay] for circuit, relay, *_ in world.closings if circuit == f"lines.{line}"]


def in_an_impulse(world: SmallWorld) -> SmallWorld:
    world.run(60_400 * MILLISECOND)
    assert "lines.main" in world.closed_at
    return world


def cut_and_held(world: SmallWorld) -> SmallWorld:
    """Held with a repeat owed: the impulse was cut at 40 %, and one dial of three took it."""
    in_an_impulse(world)
    world.lose_hand()
    world.order(HoldLine("main"))
    world.new_hand()
    assert len(world.shows()) == 2
    return world


# ── set without the polarity ─────────────────────────────────────────────────────────────────────


def test_on_a_fresh_line_set_takes_it_as_minus_and_says_what_to_watch(world_of):
    world = world_of(empty_store=True)
    answer = world.said(SetLine("main", 500, None))
    assert (world.line().polarity, world.line().doubtful) == ("-", True)
    assert "watch the next impulse, +" in answer.text
    assert "say `right`" in answer.text
    assert "say `stood`" in answer.text


def test_after_a_step_the_polarity_is_known(world_of):
    world = world_of(empty_store=True)
    world.order(StepLine("main", 1))
    world.run(3 * SECOND)
    world.dials["main"] = model_dials(509, "+")
    answer = world.said(SetLine("main", 509, None))
    assert "watch" not in answer.text
    assert (world.line().polarity, world.line().doubtful) == ("+", False)
    world.run(65 * SECOND)
    assert world.shows() == {world.true()}


def test_on_a_held_running_line_it_is_the_line_s_own(world_of):
    world = world_of()
    world.run(70 * SECOND)  # + was given
    world.order(HoldLine("main"))
    world.dials["main"] = model_dials(500, "+")
    world.order(SetLine("main", 500, None))
    assert (world.line().polarity, world.line().doubtful) == ("+", False)
    world.run(45 * SECOND)
    assert world.shows() == {world.true()}


def test_where_an_impulse_was_cut_nobody_knows_it_unless_it_is_said(world_of):
    world = cut_and_held(world_of())
    world.order(SetLine("main", 510, None))
    assert world.line().doubtful
    world = cut_and_held(world_of())
    world.order(SetLine("main", 510, "+"))
    assert not world.line().doubtful


# ── right, stood ─────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("took", ["-", "+"])
def test_right_or_stood_after_the_first_impulse_settles_it(world_of, took):
    world = world_of(empty_store=True)
    world.dials["main"] = model_dials(509, took)
    world.order(SetLine("main", 509, None))
    world.run(65 * SECOND)
    moved = world.shows() == {510}
    assert moved is (took == "-")
    answer = world.said(LineRight("main") if moved else LineStood("main"))
    assert answer.ok
    assert not world.line().doubtful
    world.run(20 * SECOND)
    assert world.shows() == {world.true()} == {world.line().shown}
    world.run(5 * MINUTE)
    assert world.shows() == {world.true()}


def test_stood_is_refused_where_no_impulse_was_given_since_the_set(world_of):
    world = world_of(empty_store=True)
    world.order(SetLine("main", 509, None))
    assert not world.said(LineStood("main")).ok
    assert world.line().shown == 509


def test_right_ends_the_doubt_of_a_single_line(world_of):
    world = in_an_impulse(world_of())
    world.crash()
    world.run(5 * SECOND)
    assert world.line("yard").doubtful
    world.dials["yard"] = model_dials(510, "")
    answer = world.said(LineRight("yard"))
    assert "yard is doubtful no longer" in answer.text
    world.run(5 * MINUTE)
    assert world.shows("yard") == {world.true("yard")}
    assert not world.line("yard").doubtful


def test_stood_of_a_single_line_gives_the_impulse_that_it_lacks(world_of):
    world = in_an_impulse(world_of())
    world.premises.dials["yard"] = model_dials(509, "")
    world.crash()
    world.premises.dials["yard"] = model_dials(509, "")
    world.run(5 * SECOND)
    assert world.said(LineStood("yard")).ok
    world.run(20 * SECOND)
    assert world.shows("yard") == {510} == {world.true("yard")}


@pytest.mark.parametrize("what", [LineRight, LineStood])
def test_both_are_refused_for_a_line_that_is_unread(world_of, what):
    world = world_of(empty_store=True)
    assert "is unread" in world.said(what("main")).text


# ── swapped ──────────────────────────────────────────────────────────────────────────────────────


def exchange(world: SmallWorld) -> None:
    world.premises.exchanged ^= {"main"}


def test_swapped_turns_the_polarities_round(world_of):
    world = world_of()
    world.run(70 * SECOND)
    world.order(HoldLine("main"))
    exchange(world)
    answer = world.said(LineSwapped("main"))
    assert "the next impulse is +" in answer.text
    world.order(GoLine("main"))
    world.run(10 * MINUTE)
    assert impulses(world)[:2] == ["+", "+"]
    assert world.shows() == {world.true()}


def test_swapped_with_a_repeat_owed_turns_that_round_too(world_of):
    world = cut_and_held(world_of())
    exchange(world)
    assert world.said(LineSwapped("main")).ok
    world.order(GoLine("main"))
    world.run(3 * SECOND)
    assert impulses(world) == ["+", "-"]
    assert world.shows() == {510}, "every dial has taken it once"
    world.run(10 * MINUTE)
    assert world.shows() == {world.true()}


def test_swapped_is_refused_while_the_line_goes_and_on_a_single_one(world_of):
    world = world_of()
    assert "hold it" in world.said(LineSwapped("main")).text
    in_an_impulse(world)
    world.order(HoldLine("main"))
    assert not world.said(LineSwapped("main")).ok, "it still gives one"
    world.run(5 * SECOND)
    world.order(HoldLine("yard"))
    assert "is a single line" in world.said(LineSwapped("yard")).text


# ── moved ────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("line", ["main", "yard"])
def test_moved_makes_it_unread_and_it_stands_until_set(world_of, line):
    world = world_of()
    world.run(10 * SECOND)
    answer = world.said(LineMoved(line))
    assert f"{line} is unread, and stands until `set`" in answer.text
    world.run(5 * MINUTE)
    assert impulses(world, line) == []
    took = "+" if line == "main" else ""
    world.dials[line] = model_dials(300, took)
    world.order(SetLine(line, 300, took or None))
    world.run(10 * MINUTE)
    assert world.shows(line) == {world.true(line)}


def test_moved_is_refused_while_an_impulse_is_out(world_of):
    world = in_an_impulse(world_of())
    assert "say it again when it has ended" in world.said(LineMoved("main")).text
    assert world.line().read


def test_moved_ends_a_drive_a_repeat_and_steps(world_of):
    world = cut_and_held(world_of())
    world.order(LineMoved("main"))
    world.order(DriveLine("main", 515))
    world.order(StepLine("main", 1))
    world.run(5 * MINUTE)
    assert impulses(world) == ["+"], "it is held"
    assert (world.line().read, world.line().step, world.line().target) == (False, None, -1)


# ── each while an impulse is out, and over a crash ───────────────────────────────────────────────

EACH = [
    HoldLine("main"),
    GoLine("main"),
    SetLine("main", 509, "-"),
    StepLine("main", 1),
    DriveLine("main", 512),
    LineRight("main"),
    LineStood("main"),
    LineSwapped("main"),
    LineMoved("main"),
]


@pytest.mark.parametrize("end", ["done", "cut", "never begun"])
@pytest.mark.parametrize("what", EACH, ids=lambda what: type(what).__name__)
def test_each_order_while_an_impulse_is_out_loses_no_impulse(world_of, what, end):
    world = world_of()
    world.run((59_400 if end == "never begun" else 60_700) * MILLISECOND)
    assert world.state.lines["main"].play is not None
    order = world.order(what)
    if end != "done":
        world.lose_hand()
        world.new_hand()
    world.run(30 * SECOND)
    assert world.answer(order) is not None
    if isinstance(what, LineStood):  # it was not true: say so
        assert world.line().shown == 510, "the belief was one less, and is driven right"
        return
    if isinstance(what, StepLine):
        assert world.line().shown == 510
        assert world.shows() == {511}
        return
    if world.line().step is None:  # a held line does not even give one again
        assert world.shows() == {world.line().shown}
    world.order(GoLine("main"))
    world.run(10 * MINUTE)
    assert world.shows() == {world.line().shown} == {world.true()}


HELD = (HoldLine("main"),)
FRESH = (LineMoved("main"), SetLine("main", 509, None))
LASTING = [
    ((), HoldLine("main"), "held", True),
    (HELD, GoLine("main"), "held", False),
    ((), DriveLine("main", 509), "held", True),
    ((), LineMoved("main"), "read", False),
    (HELD, SetLine("main", 511, "-"), "shown", 511),
    (FRESH, LineRight("main"), "doubtful", False),
    (HELD, LineStood("main"), "shown", 508),
    (HELD, LineSwapped("main"), "polarity", "+"),
]


@pytest.mark.parametrize(
    ("before", "what", "name", "value"), LASTING, ids=[type(row[1]).__name__ for row in LASTING]
)
def test_an_order_lasts_over_a_crash_once_it_is_answered_and_never_by_half(
    world_of, before, what, name, value
):
    def ordered(world: SmallWorld) -> int:
        world.commit_ns = 50 * MILLISECOND
        world.run(10 * SECOND)
        for earlier in before:
            world.order(earlier)
        world.run(SECOND)
        number = world.order(what)
        world.run(SECOND)
        return number

    whole = world_of()
    number = ordered(whole)
    assert whole.answer(number).ok
    lasted = []
    for after in range(2, len(whole.batches) + 1):  # the first is made as the world begins
        world = world_of()
        world.stop_after = after
        with pytest.raises(Stopped) as stopped:
            ordered(world)
        world.release(stopped.value.decision)
        answered = world.answer(number) is not None
        world.crash()
        if world.orders == number:
            lasted.append(getattr(world.line(), name) == value)
            assert lasted[-1] is answered, f"after {after} commits"
    assert any(lasted)


def test_a_hold_that_waits_is_answered_where_a_new_file_drops_the_line(world_of):
    world = in_an_impulse(world_of())
    order = world.order(HoldLine("main"))
    other = world_of().building
    del other.lines["main"]
    world.put(NewBuilding(other))
    world.run(5 * SECOND)
    assert not world.answer(order).ok
    assert "no line main any more" in world.answer(order).text
