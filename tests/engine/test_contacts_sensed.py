"""Contacts that do not do as they are told, by their sense inputs."""

from __future__ import annotations

import pytest
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld
from told import misses, sounded

from controller.engine.contract import Cancel, ContactFault
from controller.engine.wishes import GoLine, HoldLine, LineRight, StepLine

FIRST = '{ at = "08:30", zones = ["north"], for = "5s" }'
LATER = '{ at = "08:32", zones = ["north"], for = "5s" }'


def impulses(world: SmallWorld, line: str = "main") -> list[tuple[float, str]]:
    """(seconds from 08:29, polarity) of each impulse that was ordered."""
    boot = world.mono_zero + 1_000 * SECOND
    return [
        (round((a - boot) / SECOND, 3), "+-"[relay])
        for circuit, relay, a, _ in world.closings
        if circuit == f"lines.{line}"
    ]


def stuck_notes(world: SmallWorld) -> int:
    return sum("main" in note for note in world.notes())


# ── stuck ────────────────────────────────────────────────────────────────────────────────────────


def test_stuck_on_an_alternating_line_the_same_polarity_is_tried_once_a_minute(world_of):
    world = world_of()
    world.stick("lines.main", 0)
    world.run(10 * MINUTE + 30 * SECOND)
    tried = impulses(world)
    assert {polarity for _, polarity in tried} == {"+"}
    assert len(tried) == 10
    assert world.shows() == {509} == {world.line().shown}
    assert world.faults() == {"lines.main+ stuck": True}
    assert not world.well
    assert world.shows("yard") == {world.true("yard")}, "the other line goes on"


def test_stuck_for_a_day_does_not_fill_the_logbook_and_comes_right_afterwards(world_of):
    world = world_of()
    world.stick("lines.main", 0)
    world.run(24 * 60 * MINUTE)
    assert stuck_notes(world) <= 3
    world.mend("lines.main", 0)
    world.run(61 * SECOND)
    assert world.faults() == {"lines.main+ stuck": False}
    world.run(70 * MINUTE)
    assert world.shows() == {world.true()} == {world.line().shown}
    assert not world.line().doubtful


def test_a_line_of_which_one_contact_is_stuck_goes_on_once_it_closes(world_of):
    world = world_of()
    world.stick("lines.main", 1)
    world.run(5 * MINUTE + 30 * SECOND)
    assert impulses(world)[0] == (60, "+")
    assert {polarity for _, polarity in impulses(world)[1:]} == {"-"}
    assert world.shows() == {510}
    world.mend("lines.main", 1)
    world.run(80 * SECOND)
    assert world.shows() == {world.true()}


def test_let_go_by_a_person_it_is_tried_at_once(world_of):
    world = world_of()
    world.stick("lines.main", 0)
    world.run(65 * SECOND)
    world.mend("lines.main", 0)
    world.order(HoldLine("main"))
    world.order(GoLine("main"))
    world.run(5 * SECOND)
    assert world.shows() == {world.true()}


def test_stuck_on_a_single_line_it_is_not_taken_and_the_line_is_doubtful(world_of):
    world = world_of()
    world.stick("lines.yard")
    world.run(5 * MINUTE + 30 * SECOND)
    row = world.line("yard")
    assert (row.shown, row.doubtful) == (509, True), "for the sense may be what is broken"
    assert world.shows("yard") == {509}
    assert len(impulses(world, "yard")) == 5
    assert sum("yard" in note for note in world.notes()) <= 3
    world.mend("lines.yard")
    world.run(80 * SECOND)
    assert world.shows("yard") == {world.true("yard")} == {world.line("yard").shown}
    assert world.line("yard").doubtful, "until a person says that it is right"


def test_a_step_that_a_stuck_single_contact_did_not_give_is_not_tried_for_ever(world_of):
    world = world_of()
    world.stick("lines.yard")
    world.order(StepLine("yard", 1))
    world.run(50 * SECOND)
    assert len(impulses(world, "yard")) == 1


def test_a_zone_whose_contact_is_stuck_does_not_ring_and_the_relay_is_why(world_of):
    world = world_of(FIRST, LATER)
    world.stick("zones.north")
    world.run(2 * MINUTE)
    assert misses(world) == [("08:30:00", "relay")]
    assert world.given() == []
    assert world.faults() == {"zones.north stuck": True}
    world.mend("zones.north")
    world.run(2 * MINUTE)
    assert world.given() == [("north", "2026-11-25T08:32:00")]
    assert world.faults() == {"zones.north stuck": False}
    assert misses(world) == [("08:30:00", "relay")]


def test_a_ring_that_a_stuck_contact_did_not_give_is_not_given_after_a_crash(world_of):
    world = world_of(FIRST)
    world.stick("zones.north")
    world.run(66 * SECOND)
    world.mend("zones.north")
    world.crash()
    world.run(2 * MINUTE)
    assert world.given() == []
    assert misses(world) == [("08:30:00", "relay")]


# ── welded ───────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("relay", [0, 1])
def test_a_line_with_a_welded_contact_stands_and_goes_on(world_of, relay):
    world = world_of()
    world.run(10 * SECOND)
    world.put(ContactFault("lines.main", relay, "welded", True))
    world.run(5 * MINUTE)
    assert impulses(world) == []
    assert world.faults() == {f"lines.main{'+-'[relay]} welded": True}
    assert len(impulses(world, "yard")) == 5
    world.put(ContactFault("lines.main", relay, "welded", False))
    world.run(25 * SECOND)
    assert world.shows() == {world.true()}
    assert world.faults() == {f"lines.main{'+-'[relay]} welded": False}


def test_a_single_line_whose_contact_is_welded_is_doubtful_as_current_that_returns_moves_it(
    world_of,
):
    world = world_of()
    world.put(ContactFault("lines.yard", 0, "welded", True))
    assert world.line("yard").doubtful
    assert not world.line("main").doubtful
    world.put(ContactFault("lines.yard", 0, "welded", False))
    world.crash()
    world.run(MINUTE)
    assert world.line("yard").doubtful, "until somebody has looked"
    world.order(LineRight("yard"))
    assert not world.line("yard").doubtful


def test_a_line_whose_contact_is_welded_now_and_then_goes_on_in_between(world_of):
    world = world_of()
    for _ in range(30):
        world.put(ContactFault("lines.main", 0, "welded", True))
        world.run(100_000_000)
        world.put(ContactFault("lines.main", 0, "welded", False))
        world.run(59 * SECOND)
    world.run(40 * SECOND)
    assert world.shows() == {world.true()}
    assert world.faults() == {"lines.main+ welded": True}, "it comes and goes"
    assert stuck_notes(world) <= 2 * 5
    world.run(10 * MINUTE)
    assert world.faults() == {"lines.main+ welded": False}


def test_a_welded_zone_is_said_with_what_to_do(world_of):
    world = world_of()
    world.put(ContactFault("zones.north", 0, "welded", True))
    assert "take their supply away at the fuse" in world.state.faults["zones.north welded"].says


# ── names, and who forgets them ──────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("circuit", "relay", "kind", "name"),
    [
        ("zones.north", 0, "stuck", "zones.north stuck"),
        ("zones.south", 0, "bouncing", "zones.south bouncing"),
        ("lines.main", 0, "slow", "lines.main+ slow"),
        ("lines.main", 1, "bouncing", "lines.main- bouncing"),
        ("lines.yard", 0, "welded", "lines.yard welded"),
    ],
)
def test_a_fault_is_named_by_circuit_polarity_and_kind(world_of, circuit, relay, kind, name):
    world = world_of()
    world.put(ContactFault(circuit, relay, kind, True))
    assert world.faults() == {name: True}
    assert f": fault: {name}: {world.state.faults[name].says}" in world.notes()
    world.put(ContactFault(circuit, relay, kind, False))
    assert world.faults() == {name: False}
    assert any(note.startswith(f": fault ended: {name}") for note in world.notes())


def test_a_contact_that_the_file_does_not_have_is_nobody_s_fault(world_of):
    world = world_of()
    world.put(ContactFault("zones.attic", 0, "stuck", True))
    world.put(ContactFault("lines.attic", 1, "stuck", True))
    assert world.faults() == {}


def test_a_slow_or_bouncing_contact_keeps_nothing_from_being_given(world_of):
    world = world_of(FIRST)
    world.put(ContactFault("zones.north", 0, "slow", True))
    world.put(ContactFault("lines.main", 0, "bouncing", True))
    world.run(70 * SECOND)
    assert sounded(world) == [(60, 5)]
    assert world.shows() == {510}
    assert not world.well


def test_a_new_hand_sees_for_itself(world_of):
    world = world_of()
    world.put(ContactFault("lines.main", 0, "welded", True))
    world.put(ContactFault("zones.north", 0, "stuck", True))
    world.lose_hand()
    world.run(10 * SECOND)
    assert world.faults() == {"lines.main+ welded": True, "zones.north stuck": True}
    world.new_hand()
    assert world.faults() == {"lines.main+ welded": False, "zones.north stuck": False}
    world.run(MINUTE)
    assert world.shows() == {510}


def test_after_a_restart_too(world_of):
    world = world_of()
    world.put(ContactFault("lines.main", 0, "welded", True))
    world.crash()
    world.run(MINUTE)
    assert world.faults() == {"lines.main+ welded": False}
    assert world.well


# ── closed for a part of an impulse only ─────────────────────────────────────────────────────────


def cut_it_short(world: SmallWorld) -> None:
    """The impulse in progress ends half way, as the hand says of a contact that closed late."""
    play = world.state.lines["main"].play
    assert play is not None
    world.run(500 * MILLISECOND)
    world._cancel(Cancel(play.id, stop=True))
    world.settle()


def test_an_impulse_that_is_cut_twice_is_given_again_twice_and_the_dials_are_right(world_of):
    world = world_of()
    for _ in range(2):
        world.run_until(lambda: "lines.main" in world.closed_at)
        cut_it_short(world)
    world.run(10 * SECOND)
    assert {polarity for _, polarity in impulses(world)} == {"+"}
    assert world.shows() == {510} == {world.line().shown}
    assert not world.line().doubtful


def test_one_that_is_cut_each_time_counts_as_taken_in_the_end_and_the_line_is_doubtful(world_of):
    world = world_of()
    for _ in range(3):
        world.run_until(lambda: "lines.main" in world.closed_at)
        cut_it_short(world)
    assert world.line().doubtful
    assert world.line().shown == 510
    world.run(2 * MINUTE)
    assert impulses(world)[3][1] == "-", "the line goes on"
