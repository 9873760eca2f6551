"""Small buildings, and whatever may happen to them in any order: the contract holds throughout.

No ring is given twice, at most one play is out on a circuit and none reaches another hand, no
contact is closed in a zone whose switch is closed (checked by the small world at every turn),
limits are kept, buttons ring no longer than they are pressed, every order is answered once, and
once it is quiet again the dials of alternating lines are right, those of single lines right or
doubtful. Begun with what broke a model most: clock steps with slow commits and a dying hand.
"""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from small_buildings import BUTTONS, EVERY_LINE, LINES, START, texts
from small_happenings import SmallHistory, histories
from small_world import MILLISECOND, SECOND, SmallWorld, building_of

from controller.engine.contract import HandReady, Tick
from controller.engine.recover import recover
from controller.engine.step import step

LETTING_GO_NS = 100 * MILLISECOND


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("buildings")


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(texts=texts(), happens=histories())
def test_whatever_happens_in_any_order(folder, texts, happens):
    history = SmallHistory([building_of(folder, text) for text in texts], START)
    for what, how in happens:
        history.happen(what, how)
    history.calm_down()
    judge(history)


def judge(history: SmallHistory) -> None:
    world = history.world
    twice = [identity for identity, times in Counter(world.given()).items() if times > 1]
    assert not twice, "a ring is given at most once"
    dials_are_right(history)
    within_limits(world)
    buttons_ring_while_pressed(world)
    answered = {answer.order for answer in world.answers}  # each once: by the small world
    assert answered | world.lost_orders == set(range(1, world.orders + 1)), "all are answered"
    assert not [name for name, lasts in world.faults().items() if lasts], "all faults have ended"
    assert world.well
    lawful_from_every_prefix(world)


def dials_are_right(history: SmallHistory) -> None:
    world = history.world
    for name in EVERY_LINE:
        shown, row = world.shows(name), world.line(name)
        if name in LINES:
            assert len(shown) == 1, "the dials of a line agree"
            settled = not row.doubtful or not history.as_believed(name)
            assert settled, "a person has seen that the dials are as believed"
        assert row.shown == world.true(name), "what is believed is right"
        if history.as_believed(name) and not row.doubtful:
            assert shown == {world.true(name)}, "and so are the dials"


def within_limits(world: SmallWorld) -> None:
    for name, zone in world.building.zones.items():
        spans = [(a, b) for circuit, _, a, b in world.closings if circuit == f"zones.{name}"]
        assert all(b - a <= zone.longest_ns + 5 * SECOND for a, b in spans)  # the hand may stall
    for name, line in world.building.lines.items():
        spans = [(a, b) for circuit, _, a, b in world.closings if circuit == f"lines.{name}"]
        assert all(c - b >= line.gap_ns for (_, b), (c, _) in itertools.pairwise(spans))


def buttons_ring_while_pressed(world: SmallWorld) -> None:
    """What nobody but buttons rings is silent soon after the last of them is let go."""
    for (circuit, _, since, until), who in zip(world.closings, world.rung_by, strict=True):
        buttons = {name.removeprefix("panel.") for name in who}
        began_late = any(a <= since <= b for a, b in world.hindered)  # and so ends as much later
        if began_late or not circuit.startswith("zones.") or not who or not buttons <= set(BUTTONS):
            continue
        for start, end in not_pressed(world, buttons):
            start = max(start, since - LETTING_GO_NS)
            hindered = any(a <= start + LETTING_GO_NS and b >= start for a, b in world.hindered)
            assert hindered or min(until, end) - start <= LETTING_GO_NS, "it was let go"


def not_pressed(world: SmallWorld, buttons: set[str]) -> list[tuple[int, int]]:
    """When none of these buttons was pressed (outside)."""
    pressed: set[str] = set()
    spans, since = [], 0
    for at, name, closed in world.moves:
        if name in buttons:
            if closed and not pressed:
                spans.append((since, at))
            pressed = pressed | {name} if closed else pressed - {name}
            if not pressed:
                since = at
    return spans if pressed else [*spans, (since, world.t)]


def lawful_from_every_prefix(world: SmallWorld) -> None:
    """A daemon starts from what any of the commits had left, in this boot or the next."""
    building, now = world.building, world.now
    store = {}
    for number, records in enumerate(world.batches):
        store |= {record.key: record for record in records}
        if number % max(1, len(world.batches) // 8) == 0:
            for boot in (now.boot, "another"):
                later = now._replace(boot=boot)
                state = recover(building, list(store.values()), later)
                for given in (Tick(), HandReady("next", (("north_switch", True),), False)):
                    state, _ = step(building, state, later, given)
