"""Asking more often changes nothing (contract, point 5)."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_buildings import START, texts
from small_world import MINUTE, SECOND, SmallWorld, building_of

from controller.engine.contract import Tick
from controller.rehearsal.record import RehearsalRecord
from controller.rehearsal.script import Cut, Script, Step
from controller.rehearsal.world import World


class Restless(World):
    """A world that asks every so often, whether or not anything is due."""

    every = 330_000_007

    def _next_instant(self, events):
        due = super()._next_instant(events)
        if due is None or self.state is None:
            return due
        return min(due, self.t + self.every)

    def _go_on(self) -> None:
        self._hand_advances()
        self.inputs.append(Tick())
        self._settle()


def played(world: World) -> list[RehearsalRecord]:
    return [*world.run(), world.end_record()]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("buildings")


seconds = st.integers(0, 300_000).map(lambda milliseconds: milliseconds * 1_000_000)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    text=texts().map(lambda two: two[0]),
    cuts=st.lists(st.tuples(seconds, seconds), max_size=2),
    steps=st.lists(
        st.tuples(seconds, st.sampled_from([-40.0, -2.0, -0.3, 0.3, 2.0, 40.0])), max_size=2
    ),
    every=st.integers(100_000_000, 3_000_000_000),
)
def test_a_restless_world_tells_the_same(folder, text, cuts, steps, every):
    building = building_of(folder, text)
    script = Script(
        START,
        START + 6 * MINUTE,
        cuts=tuple(Cut(START + at, off // 4 + 1) for at, off in cuts),
        steps=tuple(Step(START + at, round(by * SECOND)) for at, by in steps),
    )
    restless = Restless(building, script)
    restless.every = every
    assert played(restless) == played(World(building, script))


def test_the_same_tick_at_every_instant_decides_nothing(folder):
    rings = ",".join(
        f'{{ at = "08:{m}:{s:02}", zones = ["*"], for = "{n}s" }}'
        for m, s, n in ((30, 0, 5), (30, 5, 9), (31, 0, 3), (31, 2, 8))
    )
    text = (
        '[building]\ntimezone = "America/Halifax"\n[supply]\namps = 1.0\n'
        + "".join(f"[zones.z{n}]\nrelay = {n}\nbells = 1\namps_each = 0.6\n" for n in (5, 6, 7))
        + '[lines.main]\ndrive = "alternating"\nrelays = [8, 9]\n'
        + f'[plans.daily]\nrings = [{rings}]\n[week]\nwed = "daily"\n'
    )
    world = SmallWorld(building_of(folder, text), START)
    for _ in range(1_500):
        world.run(100_000_000)
        decided = len(world.decisions)
        world.put(Tick())
        assert not any(world.decisions[decided][:8])
    assert len(world.soundings()) > 5
