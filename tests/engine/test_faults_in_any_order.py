"""Small buildings, and whatever may happen to them in any order: the contract holds throughout.

No ring is given twice, at most one play is out on a circuit and none reaches another hand (checked
by the small world at every turn), limits are kept, and once it is quiet again the dials of
alternating lines are right. Begun with what broke a model most: clock steps with slow commits and a
dying hand.
"""

from __future__ import annotations

import itertools
from collections import Counter
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_buildings import EVERY_LINE, LINES, START, ZONES, texts
from small_world import MILLISECOND, MINUTE, SECOND, SmallWorld, building_of

from controller.building.model import Line
from controller.dials.modelled import model_dials
from controller.engine import contract
from controller.engine.contract import Cancel, NewBuilding, Tick

CLOCK_STEPS = [-3_600_000, -60_000, -2_000, -300, 40, 300, 2_000, 40_000, 3_600_000]  # ms
waits = st.tuples(st.just("wait"), st.integers(0, 25_000))
happenings = st.one_of(
    waits,
    waits,
    st.tuples(st.just("tick"), st.just(0)),
    st.tuples(st.just("clock"), st.sampled_from(CLOCK_STEPS)),
    st.tuples(st.just("commit"), st.sampled_from([0, 20, 900, 3_000])),
    st.tuples(st.just("hand lost"), st.just(0)),
    st.tuples(st.just("hand ready"), st.just(0)),
    st.tuples(st.just("stall"), st.integers(1, 5_000)),
    st.tuples(st.just("fails"), st.booleans()),
    st.tuples(st.just("trust"), st.booleans()),
    st.tuples(st.just("crash"), st.just(0)),
    st.tuples(st.just("power"), st.integers(100, 90_000)),
    st.tuples(st.just("ring"), st.sampled_from(ZONES)),
    st.tuples(st.just("stop"), st.just(0)),
    st.tuples(st.just("quiet"), st.sampled_from(ZONES)),
    st.tuples(st.just("lift"), st.sampled_from(ZONES)),
    st.tuples(st.just("hold"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("go"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("set"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("step"), st.sampled_from(EVERY_LINE)),
    st.tuples(st.just("follow"), st.sampled_from(["other", "usual", "daily"])),
    st.tuples(st.just("building"), st.integers(0, 1)),
)


def happen(world: SmallWorld, buildings, what: str, how, corrected: set[str]) -> None:
    match what:
        case "wait":
            world.run(how * MILLISECOND)
        case "tick":
            world.put(Tick())
            decided = len(world.decisions)
            world.put(Tick())
            (again,) = world.decisions[decided:]
            assert not any(again[:9]), "the same Tick again at the same Now decides nothing"
        case "clock":
            world.shift += how * MILLISECOND
            world.put(Tick())
        case "commit":
            world.commit_ns = how * MILLISECOND
        case "hand lost":
            world.lose_hand()
        case "hand ready":
            world.new_hand()
        case "stall":
            world.stalled_until = world.t + how * MILLISECOND
        case "fails" if world.rules is not None:
            for play in sorted(world.out.values()):  # the hand ends or refuses what it has
                world._came_out(*world.rules.cancel(Cancel(play, stop=how), world.mono))
            world.settle()
        case "trust":
            world.trusted = how
            world.put(Tick())
        case "crash":
            world.crash()
        case "power":
            world.power_cut(how * MILLISECOND)
        case "ring":
            world.order(contract.RingByHand((how,), 3 * SECOND))
        case "stop":
            world.order(contract.StopAll())
        case "quiet":
            world.order(contract.QuietZones((how,), world.now.utc + 20 * SECOND))
        case "lift":
            world.order(contract.QuietZones((how,), 0))
        case "hold":
            world.order(contract.HoldLine(how))
        case "go":
            world.order(contract.GoLine(how))
        case "set":
            read_and_set(world, how)
        case "step":
            world.order(contract.StepLine(how, 2))
            corrected.add(how)
        case "follow":
            world.order(contract.Follow(date(2026, 11, 25), how))
        case "building":
            world.put(NewBuilding(buildings[how]))


def read_and_set(world: SmallWorld, line: str) -> None:
    """A person brings the dials of a held line together and says what they show."""
    state = world.state.lines[line]
    if state.play is None and state.row.held:
        dial = world.dials[line][0]
        world.dials[line] = model_dials(dial.shows, dial.took)
        world.order(contract.SetLine(line, dial.shows, dial.took or None))


def longest_wrong(line: Line) -> int:
    """How long dials can be wrong (ns): all their patience, or once round while time goes on."""
    pace = line.impulse_ns + line.gap_ns
    round_once = line.positions * pace * line.every_ns // (line.every_ns - pace)
    return max(line.patience_ns, round_once)


def calm_down(world: SmallWorld) -> None:
    """Everything is in order again: commits are quick, the clock trusted, the hand there."""
    world.commit_ns = 0
    world.trusted = True
    world.new_hand()
    world.put(Tick())
    world.run(2 * MINUTE)
    for name in EVERY_LINE:
        world.order(contract.GoLine(name))
    world.run(max(longest_wrong(line) for line in world.building.lines.values()) + 5 * MINUTE)
    world.run(45 * SECOND - world.now.utc % (30 * SECOND))  # not as a step is just under way


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("buildings")


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(texts=texts(), happens=st.lists(happenings, max_size=30))
def test_whatever_happens_in_any_order(folder, texts, happens):
    buildings = [building_of(folder, text) for text in texts]
    world = SmallWorld(buildings[0], START)
    corrected: set[str] = set()
    for what, how in happens:
        happen(world, buildings, what, how, corrected)
    calm_down(world)
    twice = [identity for identity, times in Counter(world.given()).items() if times > 1]
    assert not twice, "a ring is given at most once"
    for name in LINES:
        shown = {dial.shows for dial in world.dials[name]}
        assert len(shown) == 1, "the dials of a line agree"
        assert world.line(name).shown == world.true(name), "what is believed is right"
        if name not in corrected:
            assert shown == {world.true(name)}, "and so are the dials"
    within_limits(world)


def within_limits(world: SmallWorld) -> None:
    for name, zone in world.building.zones.items():
        spans = [(a, b) for circuit, _, a, b in world.closings if circuit == f"zones.{name}"]
        assert all(b - a <= zone.longest_ns + 5 * SECOND for a, b in spans)  # the hand may stall
    for name, line in world.building.lines.items():
        spans = [(a, b) for circuit, _, a, b in world.closings if circuit == f"lines.{name}"]
        assert all(c - b >= line.gap_ns for (_, b), (c, _) in itertools.pairwise(spans))
