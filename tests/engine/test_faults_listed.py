"""Faults are listed from when to when, until somebody has seen that they ended."""

from __future__ import annotations

import pytest
from small_world import MINUTE, SECOND, SmallWorld

from controller.engine.contract import ContactFault, FaultFound
from controller.engine.wishes import Acknowledge, TrustClock

DISK = "the disk is full"


def fault_notes(world: SmallWorld) -> list[str]:
    return [note for note in world.notes() if "fault" in note]


# ── acknowledging ────────────────────────────────────────────────────────────────────────────────


def test_one_that_lasts_cannot_be_acknowledged_away(world_of):
    world = world_of()
    world.put(FaultFound("disk", DISK))
    answer = world.said(Acknowledge("disk"))
    assert not answer.ok
    assert "disk lasts: the disk is full" in answer.text
    assert world.faults() == {"disk": True}


def test_one_that_ended_is_listed_until_it_is_acknowledged(world_of):
    world = world_of()
    world.put(FaultFound("disk", DISK))
    world.run(MINUTE)
    world.put(FaultFound("disk", ""))
    world.run(10 * MINUTE)
    row = world.state.faults["disk"]
    assert row.until - row.since == MINUTE
    answer = world.said(Acknowledge("disk"))
    assert (answer.ok, answer.text) == (True, "Acknowledged: disk.")
    assert world.faults() == {}
    assert "keeper: acknowledged: disk" in world.notes()


def test_all_at_once_leaves_those_that_last_and_says_which(world_of):
    world = world_of()
    world.put(FaultFound("disk", DISK))
    world.put(FaultFound("file", "it has faults"))
    world.put(FaultFound("disk", ""))
    answer = world.said(Acknowledge(""))
    assert answer.ok
    assert "Acknowledged: disk." in answer.text
    assert "Still there: file." in answer.text
    assert world.faults() == {"file": True}


def test_where_none_has_ended_it_says_so(world_of):
    world = world_of()
    assert world.said(Acknowledge("")).text == "No fault has ended."
    answer = world.said(Acknowledge("disk"))
    assert (answer.ok, answer.text) == (False, "There is no fault 'disk'.")


@pytest.mark.parametrize("acknowledged", [False, True])
def test_a_restart_lists_what_was_listed(world_of, acknowledged):
    world = world_of()
    world.put(FaultFound("disk", DISK))
    world.put(FaultFound("file", "it has faults"))
    world.put(FaultFound("disk", ""))
    if acknowledged:
        world.order(Acknowledge("disk"))
    before = dict(world.state.faults)
    world.crash()
    assert dict(world.state.faults) == before
    assert ("disk" in before) is not acknowledged
    assert not world.well


def test_one_that_begins_again_lasts_again_since_then(world_of):
    world = world_of()
    world.put(FaultFound("disk", DISK))
    world.put(FaultFound("disk", ""))
    world.run(MINUTE)
    world.put(FaultFound("disk", DISK))
    row = world.state.faults["disk"]
    assert (row.since, row.until) == (world.now.utc, 0)
    assert not world.said(Acknowledge("disk")).ok


def test_the_same_word_twice_is_noted_once_and_other_words_anew(world_of):
    world = world_of()
    for says in (DISK, DISK, "the disk is read-only", "the disk is read-only", "", ""):
        world.put(FaultFound("disk", says))
    assert fault_notes(world) == [
        ": fault: disk: the disk is full",
        ": fault: disk: the disk is read-only",
        ": fault ended: disk: the disk is read-only",
    ]


# ── what the engine sees by itself ───────────────────────────────────────────────────────────────


def test_the_clock_is_one_only_after_five_minutes(world_of):
    world = world_of()
    world.trust(False)
    world.run(4 * MINUTE)
    world.trust(True)
    world.run(SECOND)
    world.trust(False)
    world.run(4 * MINUTE)
    assert world.faults() == {}, "it was trusted in between"
    world.run(MINUTE)
    assert world.faults() == {"clock": True}
    world.trust(True)
    assert world.faults() == {"clock": False}


def test_the_clock_s_fault_outlasts_a_restart_while_it_is_not_trusted(world_of):
    world = world_of()
    world.trust(False)
    world.run(6 * MINUTE)
    world.crash()
    world.run(MINUTE)
    assert world.faults() == {"clock": True}
    assert len(fault_notes(world)) == 1


def test_the_store_is_one_while_it_cannot_be_written(world_of):
    world = world_of()
    world.storing = False
    world.run(90 * SECOND)
    assert world.faults() == {"store": True}
    assert not world.well
    assert world.shows() == {510}, "bells and dials go on"
    world.storing = True
    world.run(MINUTE)
    assert world.faults() == {"store": False}
    assert world.well
    assert [": fault: store" in note for note in fault_notes(world)] == [True, False]


def test_a_store_that_takes_every_other_batch_does_not_wear_itself_out(world_of):
    """What is said of it goes into the store too."""
    world = world_of()
    committed = world._committed

    def every_other(decision) -> None:
        world.storing = len(world.batches) % 2 == 0
        committed(decision)

    world._committed = every_other
    world.run(30 * MINUTE)
    assert len(world.batches) < 160
    assert world.shows() <= {538, 539}


# ── all is well ──────────────────────────────────────────────────────────────────────────────────


def without_hand(world: SmallWorld) -> None:
    world.lose_hand()


def without_store(world: SmallWorld) -> None:
    world.storing = False
    world.run(2 * MINUTE)


def without_clock(world: SmallWorld) -> None:
    world.trust(False)


def without_supply(world: SmallWorld) -> None:
    world.supply(False)


def with_a_stuck_contact(world: SmallWorld) -> None:
    world.put(ContactFault("zones.north", 0, "stuck", True))


def with_a_fault_found(world: SmallWorld) -> None:
    world.put(FaultFound("disk", DISK))


ENDS = {
    without_hand: lambda world: world.new_hand(),
    without_clock: lambda world: world.trust(True),
    without_supply: lambda world: world.supply(True),
    with_a_stuck_contact: lambda world: world.put(ContactFault("zones.north", 0, "stuck", False)),
    with_a_fault_found: lambda world: world.put(FaultFound("disk", "")),
}


def mended_store(world: SmallWorld) -> None:
    world.storing = True
    world.run(MINUTE)


@pytest.mark.parametrize(
    ("begins", "ends"),
    [*ENDS.items(), (without_store, mended_store)],
    ids=lambda one: getattr(one, "__name__", "").replace("_", " "),
)
def test_it_is_well_exactly_while_nothing_is_amiss(world_of, begins, ends):
    world = world_of()
    world.run(10 * SECOND)
    assert world.well
    begins(world)
    assert not world.well
    world.run(2 * MINUTE)
    assert not world.well
    ends(world)
    assert world.well, "what has ended and is still listed is no reason"


def test_the_store_s_word_on_a_batch_does_not_make_it_unwell(world_of):
    """The health relay would fall at every commit."""
    world = world_of('{ at = "08:30", zones = ["*"], for = "5s" }')
    world.commit_ns = 20_000_000
    world.run(5 * MINUTE)
    assert all(decision.well for decision in world.decisions[3:])


def test_unread_held_and_doubtful_lines_are_no_fault(world_of):
    world = world_of(empty_store=True)
    world.run(MINUTE)
    assert world.well


def test_it_is_not_well_before_there_is_a_hand_and_a_clock(world_of):
    world = world_of()
    assert not world.decisions[0].well
    world.trust(False)
    world.crash()
    world.run(SECOND)
    assert not world.well
    world.order(TrustClock())
    assert world.well


# ── bounded ──────────────────────────────────────────────────────────────────────────────────────


def test_one_that_comes_and_goes_is_noted_a_few_times_and_then_lasts_until_it_keeps_away(world_of):
    world = world_of()
    for _ in range(1_000):
        world.put(FaultFound("network", "nobody answers"))
        world.run(SECOND)
        world.put(FaultFound("network", ""))
        world.run(2 * SECOND)
    assert len(fault_notes(world)) == 9
    assert world.faults() == {"network": True}
    assert not world.well
    world.run(10 * MINUTE)
    assert world.faults() == {"network": False}
    assert len(fault_notes(world)) == 10
    world.put(FaultFound("network", "nobody answers"))
    world.put(FaultFound("network", ""))
    assert world.faults() == {"network": False}, "once in a while it ends as it ends"


def test_what_is_kept_of_it_is_bounded(world_of):
    world = world_of()
    for _ in range(200):
        world.put(FaultFound("network", "nobody answers"))
        world.put(FaultFound("network", ""))
    assert {len(begins) for begins in world.state.fault_begins.values()} == {5}
    assert set(world.state.fault_eases) == {"network"}
