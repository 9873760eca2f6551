"""`to`: a person has a line driven somewhere, to be held there."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld, Stopped

from controller.engine.wishes import DriveLine, GoLine, HoldLine, SetLine, StepLine


def impulses(world: SmallWorld, line: str = "main") -> list[str]:
    """The polarity of each impulse."""
    return ["+-"[relay] for circuit, relay, *_ in world.closings if circuit == f"lines.{line}"]


def in_an_impulse(world: SmallWorld) -> SmallWorld:
    world.run(60_400 * MILLISECOND)
    assert "lines.main" in world.closed_at
    return world


@pytest.mark.parametrize("line", ["main", "yard"])
@pytest.mark.parametrize("trusted", [True, False])
@pytest.mark.parametrize("held", [True, False])
def test_to_drives_a_line_there_and_holds_it(world_of, line, trusted, held):
    world = world_of()
    world.trust(trusted)
    if held:
        world.order(HoldLine(line))
    answer = world.said(DriveLine(line, 520))
    assert answer.ok
    assert f"{line} is driven to 08:40, 11 impulses, and held there" in answer.text
    world.run(21 * SECOND)
    assert world.shows(line) == {520}
    world.run(10 * MINUTE)
    assert world.shows(line) == {520}
    row = world.line(line)
    assert (row.shown, row.held, row.target, row.doubtful) == (520, True, -1, False)
    assert f": {line}: has come to 08:40, and is held" in world.notes()
    world.trust(True)
    world.order(GoLine(line))
    world.run(90 * MINUTE)
    assert world.shows(line) == {world.true(line)}


def test_to_where_it_is_holds_it_at_once(world_of):
    world = world_of()
    assert "0 impulses" in world.said(DriveLine("main", 509)).text
    world.run(5 * MINUTE)
    assert impulses(world) == []
    assert world.line().held


def test_to_the_position_behind_goes_once_round(world_of):
    world = world_of()
    world.order(DriveLine("main", 508))
    world.run(719 * 2 * SECOND)
    assert world.shows() == {508}
    assert len(impulses(world)) == 719


def test_to_is_refused_for_a_line_that_is_unread_and_for_no_position(world_of):
    world = world_of(empty_store=True)
    assert "is unread" in world.said(DriveLine("main", 5)).text
    world.order(SetLine("main", 509, "-"))
    for shown in (-1, 720):
        answer = world.said(DriveLine("main", shown))
        assert (answer.ok, answer.text) == (False, "main: a position is 0 up to 719.")
    world.run(5 * SECOND)
    assert not world.line().held


def test_to_while_an_impulse_is_out_counts_that_one(world_of):
    world = in_an_impulse(world_of())
    world.order(DriveLine("main", 512))
    world.run(10 * SECOND)
    assert world.shows() == {512}
    assert len(impulses(world)) == 3


def test_to_while_a_hold_waits_for_an_impulse_answers_that_and_drives_on(world_of):
    world = in_an_impulse(world_of())
    hold = world.order(HoldLine("main"))
    drive = world.order(DriveLine("main", 515))
    world.run(20 * SECOND)
    assert "driven on before it was held" in world.answer(hold).text
    assert world.answer(drive).ok
    assert world.shows() == {515}
    assert world.line().held


def test_hold_and_go_end_a_drive(world_of):
    world = world_of()
    world.order(DriveLine("main", 600))
    world.run(5 * SECOND)
    world.order(HoldLine("main"))
    world.run(MINUTE)
    assert (world.line().held, world.line().target, world.shows()) == (True, -1, {513})
    world.order(DriveLine("main", 600))
    world.run(5 * SECOND)
    world.order(GoLine("main"))
    world.run(20 * MINUTE)
    assert world.shows() == {world.true()}


def test_to_somewhere_else_in_mid_drive_goes_there(world_of):
    world = world_of()
    world.order(DriveLine("main", 600))
    world.run(5 * SECOND)
    world.order(DriveLine("main", 520))
    world.run(MINUTE)
    assert world.shows() == {520}


def test_steps_that_were_ordered_before_are_dropped_and_in_mid_drive_correct_dials(world_of):
    world = world_of()
    world.order(StepLine("main", 100))
    world.run(500 * MILLISECOND)
    world.order(DriveLine("main", 515))
    world.run(500 * MILLISECOND)
    world.order(StepLine("main", 2))
    world.run(MINUTE)
    assert world.line().shown == 515
    assert world.shows() == {518}, "one step before and two in between"


def test_a_drive_in_which_the_supply_goes_comes_there(world_of):
    world = world_of()
    world.order(DriveLine("main", 520))
    world.run(6_300 * MILLISECOND)
    world.supply(False)
    world.run(3 * MINUTE)
    assert not world.line().held
    world.supply(True)
    world.run(30 * SECOND)
    assert world.shows() == {520}
    assert world.line().held


@pytest.mark.parametrize("power", [False, True], ids=["same boot", "another boot"])
@pytest.mark.parametrize("later_ms", [None, 300, 1_700])
@pytest.mark.parametrize("line", ["main", "yard"])
def test_a_drive_survives_a_crash_from_every_prefix_of_the_records(world_of, line, later_ms, power):
    def driven(world: SmallWorld) -> None:
        world.commit_ns = 30 * MILLISECOND
        world.run(10 * SECOND)
        world.order(DriveLine(line, 515))
        world.run(30 * SECOND)

    whole = world_of()
    driven(whole)
    assert whole.shows(line) == {515}
    first = next(n for n, rows in enumerate(whole.batches, 1) if "to 08:35" in str(rows))
    for after in range(first, len(whole.batches) + 1):
        world = world_of()
        world.stop_after = after
        with pytest.raises(Stopped) as stopped:
            driven(world)
        if later_ms is not None:
            world.release(stopped.value.decision)
            world.run(later_ms * MILLISECOND)
        if power:
            world.power_cut(7 * SECOND)
        else:
            world.crash()
        world.run(5 * MINUTE)
        row = world.line(line)
        assert (row.held, row.shown, row.target) == (True, 515, -1), f"after {after} commits"
        assert world.shows(line) == {515} or row.doubtful, f"after {after} commits"
        assert line == "yard" or not row.doubtful
