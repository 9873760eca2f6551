"""What a person orders of a line of dials: hold, go, set, step. And what a line does by itself."""

from __future__ import annotations

import itertools

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld

from controller.dials.modelled import model_dials
from controller.engine.contract import NewBuilding, Outcome
from controller.engine.records import LineRow, StepRow
from controller.engine.wishes import GoLine, HoldLine, SetLine, StepLine


def impulses(world: SmallWorld, line: str = "main") -> list[tuple[float, str]]:
    """(seconds since the boot, polarity) of each impulse."""
    boot = world.mono_zero + 1_000 * SECOND
    return [
        ((a - boot) / SECOND, "+-"[relay])
        for circuit, relay, a, _ in world.closings
        if circuit == f"lines.{line}"
    ]


def right(world: SmallWorld) -> bool:
    world.run(10 * SECOND)  # not as an impulse is under way
    return world.shows() == {world.true()}


# ── hold and go ──────────────────────────────────────────────────────────────────────────────────


def test_hold_at_rest_is_answered_at_once_and_nothing_is_given(world_of):
    world = world_of()
    world.run(10 * SECOND)
    order = world.order(HoldLine("main"))
    assert "main is held, at 08:29" in world.answer(order).text
    world.run(10 * MINUTE)
    assert impulses(world) == []
    assert len(impulses(world, "yard")) == 10, "the other line goes on"


def test_hold_is_answered_once_the_impulse_in_progress_has_ended(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    order = world.order(HoldLine("main"))
    world.run(500 * MILLISECOND)
    assert world.answer(order) is None
    world.run(200 * MILLISECOND)
    assert "main is held, at 08:30" in world.answer(order).text
    world.run(10 * MINUTE)
    assert impulses(world) == [(60, "+")]
    assert (world.line().held, world.line().shown) == (True, 510)


def test_hold_of_a_line_whose_impulse_is_sent_but_not_begun_lets_it_end(world_of):
    world = world_of()
    world.run(59_500 * MILLISECOND)
    order = world.order(HoldLine("main"))
    assert world.answer(order) is None
    world.run(5 * MINUTE)
    assert impulses(world) == [(60, "+")]
    assert world.answer(order).ok


def test_a_held_line_gives_not_even_a_repeat(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.lose_hand()
    world.order(HoldLine("main"))
    world.new_hand()
    world.run(5 * MINUTE)
    assert impulses(world) == [(60, "+")], "cut at 40 %, and not given again"
    assert len(world.shows()) == 2
    world.order(GoLine("main"))
    world.run(5 * MINUTE)
    assert impulses(world)[1][1] == "+", "now it is"
    assert right(world)


def test_a_hold_outlasts_a_power_cut(world_of):
    world = world_of()
    world.order(HoldLine("main"))
    world.power_cut(MINUTE)
    world.run(5 * MINUTE)
    assert impulses(world) == []


def test_a_hold_that_waits_for_an_impulse_that_is_cut_is_answered(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    order = world.order(HoldLine("main"))
    world.lose_hand()
    assert world.answer(order).ok
    world.new_hand()
    world.run(5 * MINUTE)
    assert len(impulses(world)) == 1


def test_go_before_a_hold_came_about_takes_it_back(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    hold = world.order(HoldLine("main"))
    go = world.order(GoLine("main"))
    world.run(5 * MINUTE)
    assert world.answer(hold) is not None, "every order is answered"
    assert world.answer(go).ok
    assert not world.line().held
    assert right(world)


def test_go_says_how_it_comes_right(world_of):
    world = world_of()
    world.order(HoldLine("main"))
    world.run(10 * MINUTE + 30 * SECOND)
    order = world.order(GoLine("main"))
    assert world.answer(order).text == "main goes. It is right at 08:39:49, after 10 impulses."
    world.run(19 * SECOND)
    assert right(world)
    assert len(impulses(world)) == 10


def test_steps_that_were_ordered_before_a_hold_do_not_outlast_it(world_of):
    world = world_of()
    world.order(StepLine("main", 20))
    world.run(500 * MILLISECOND)
    world.order(HoldLine("main"))
    world.run(MINUTE)
    assert len(impulses(world)) == 1
    world.order(GoLine("main"))
    world.run(4 * SECOND)
    assert len(impulses(world)) == 2, "the one under way then, and now that of 08:30"
    assert world.line().shown == 510


# ── set ──────────────────────────────────────────────────────────────────────────────────────────


def test_set_is_refused_for_a_running_line(world_of):
    world = world_of()
    order = world.order(SetLine("main", 100, "+"))
    assert not world.answer(order).ok
    assert "hold it first" in world.answer(order).text
    assert world.line().shown == 509


def test_set_is_refused_while_an_impulse_is_out(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.order(HoldLine("main"))
    order = world.order(SetLine("main", 100, "+"))
    assert not world.answer(order).ok
    assert "impulse is out" in world.answer(order).text


def test_set_of_a_position_that_no_dial_has_is_refused(world_of):
    world = world_of()
    world.order(HoldLine("main"))
    assert not world.answer(world.order(SetLine("main", 720, "+"))).ok
    assert not world.answer(world.order(SetLine("main", -1, "+"))).ok


def test_an_unread_line_stands_until_it_is_set_and_then_goes(world_of):
    world = world_of(empty_store=True)
    world.run(5 * MINUTE)
    assert impulses(world) == []
    assert not world.answer(world.order(GoLine("main"))).ok, "it asks what the dials show"
    world.dials["main"] = model_dials(500, "+")
    world.order(SetLine("main", 500, "+"))
    world.run(2 * MINUTE)
    assert impulses(world)[0][1] == "-"
    assert right(world)
    assert not world.line().doubtful


def test_set_without_the_polarity_is_doubtful_and_takes_it_as_minus(world_of):
    world = world_of(empty_store=True)
    world.order(SetLine("main", 500, None))
    assert world.line().doubtful
    world.run(SECOND)
    world.run(10 * SECOND)
    assert impulses(world)[0][1] == "+"
    assert world.line().doubtful, "until a person says that it moved them"


def test_set_without_a_polarity_is_not_doubtful_on_a_single_line(world_of):
    world = world_of(empty_store=True)
    world.order(SetLine("yard", 500, None))
    assert not world.line("yard").doubtful


def test_set_ends_a_repeat_that_was_owed(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.lose_hand()
    world.order(HoldLine("main"))
    world.new_hand()
    world.dials["main"] = model_dials(510, "+")  # a person has set them all
    world.order(SetLine("main", 510, "+"))
    world.run(70 * SECOND)
    assert [polarity for _, polarity in impulses(world)] == ["+", "-"]
    assert right(world)


def test_the_first_impulse_after_a_set_may_repeat_a_polarity(world_of):
    world = world_of()
    world.run(70 * SECOND)  # + was given
    world.order(HoldLine("main"))
    world.dials["main"] = model_dials(510, "-")  # swapped dials
    world.order(SetLine("main", 510, "-"))
    world.run(MINUTE)
    assert [polarity for _, polarity in impulses(world)] == ["+", "+"]
    assert right(world)


def test_a_set_is_kept_over_a_crash(world_of):
    world = world_of(empty_store=True)
    world.dials["main"] = model_dials(505, "+")
    world.order(SetLine("main", 505, "+"))
    world.crash()
    world.run(2 * MINUTE)
    assert right(world)


# ── step ─────────────────────────────────────────────────────────────────────────────────────────


def test_step_moves_the_dials_and_not_what_is_believed(world_of):
    world = world_of()
    world.dials["main"] = model_dials(506, "-")  # three behind, and nobody knew
    order = world.order(StepLine("main", 3))
    world.run(10 * SECOND)
    assert world.answer(order).ok
    assert impulses(world) == [(0, "+"), (2, "-"), (4, "+")]
    assert world.line().shown == 509
    assert world.shows() == {509}
    world.run(2 * MINUTE)
    assert right(world)
    assert [polarity for _, polarity in impulses(world)][-2:] == ["-", "+"]


def test_step_waits_its_turn(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.order(StepLine("main", 1))
    world.run(10 * SECOND)
    assert impulses(world) == [(60, "+"), (62, "-")]


def test_step_needs_no_trusted_clock(world_of):
    world = world_of()
    world.trust(False)
    world.order(StepLine("main", 2))
    world.run(5 * MINUTE)
    assert len(impulses(world)) == 2


def test_step_is_refused_on_a_held_line_and_beyond_its_most(world_of):
    world = world_of()
    assert not world.answer(world.order(StepLine("main", 1_441))).ok
    assert not world.answer(world.order(StepLine("main", 0))).ok
    world.order(HoldLine("main"))
    assert not world.answer(world.order(StepLine("main", 1))).ok


def test_a_step_that_is_cut_is_given_again_and_moves_the_dials_once(world_of):
    world = world_of()
    world.order(StepLine("main", 1))
    world.run(400 * MILLISECOND)
    world.crash()
    world.run(10 * SECOND)
    assert [polarity for _, polarity in impulses(world)] == ["+", "+"]
    assert world.shows() == {510}
    assert world.line().shown == 509


def test_an_order_for_a_line_that_is_not_there_is_refused(world_of):
    world = world_of()
    for what in (HoldLine("x"), GoLine("x"), SetLine("x", 1, "+"), StepLine("x", 1)):
        answer = world.answer(world.order(what))
        assert not answer.ok
        assert "There is no line x; expected main, yard" in answer.text


# ── by itself ────────────────────────────────────────────────────────────────────────────────────


def test_an_untrusted_clock_moves_no_dial(world_of):
    world = world_of()
    world.trust(False)
    world.run(10 * MINUTE)
    assert impulses(world) == []
    world.trust(True)
    world.run(MINUTE)
    assert right(world)


def test_a_repeat_needs_no_trusted_clock(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.trust(False)
    world.crash()
    world.run(10 * SECOND)
    assert [polarity for _, polarity in impulses(world)] == ["+", "+"]
    assert world.shows() == {510}


def test_within_one_boot_an_impulse_still_ahead_at_a_crash_is_void(world_of):
    world = world_of()
    world.run(59_200 * MILLISECOND)
    assert world.line().step is not None
    world.crash()
    world.run(70 * SECOND)
    notes = [row.text for row in world.store.values() if row.key[0] == "note"]
    assert not any("given again" in text for text in notes)
    # a new hand has rested a gap only at 08:30:00.2
    assert impulses(world) == [(60.2, "+"), (120, "-")]
    assert right(world)


def test_an_impulse_is_stored_before_it_is_given(world_of):
    world = world_of()
    for _ in range(200):
        world.run(SECOND)
        if "lines.main" in world.closed_at:
            row = world.store["line", "main"]
            assert isinstance(row, LineRow)
            assert isinstance(row.step, StepRow)
            assert row.step.play == world.out["lines.main"]
    assert len(impulses(world)) >= 2


@pytest.mark.parametrize("commit_ms", [0, 300, 5_000])
def test_a_catch_up_goes_no_faster_than_impulse_gap_and_commit(world_of, commit_ms):
    world = world_of()
    world.order(HoldLine("main"))
    world.run(10 * MINUTE)
    world.commit_ns = commit_ms * MILLISECOND
    world.order(GoLine("main"))
    world.run(2 * MINUTE)
    at = [since for since, _ in impulses(world)]
    assert all(b - a >= 2 for a, b in itertools.pairwise(at))
    assert right(world)


def test_on_a_single_line_a_cut_impulse_counts_and_leaves_doubt(world_of):
    world = world_of()
    world.run(60_400 * MILLISECOND)
    world.crash()
    world.run(30 * SECOND)
    row = world.line("yard")
    assert (row.shown, row.doubtful, row.step) == (510, True, None)
    assert len(impulses(world, "yard")) == 1


def test_a_line_that_is_refused_is_tried_once_a_second(world_of):
    world = world_of()
    taking = world.rules.take
    world.rules.take = lambda play, now: Outcome(play.id, "never_began", now, now)
    world.run(65 * SECOND)
    world.rules.take = taking
    assert 5 <= sum(play.circuit == "lines.main" for play in world.plays.values()) <= 8
    world.run(MINUTE)
    assert right(world)


def test_a_new_file_with_another_face_leaves_the_line_unread(world_of):
    world = world_of()
    world.run(10 * SECOND)
    other = world_of().building
    face = {"face_ns": 86_400 * SECOND}
    other.lines["main"] = other.lines["main"].model_copy(update=face)
    world.put(NewBuilding(other))
    world.run(5 * MINUTE)
    assert not world.line().read
    assert impulses(world) == []
