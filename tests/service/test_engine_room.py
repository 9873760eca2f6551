"""The thread around the engine: what waits for the store, and what may still change meanwhile."""

from __future__ import annotations

import time

import pytest

from controller.building.file import read
from controller.engine.contract import HandReady, Now, Order, Play, Stored, Tick
from controller.engine.recover import recover
from controller.engine.wishes import RingByHand
from controller.service.engine_room import MOST_INPUTS, EngineRoom

SECOND = 1_000_000_000
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
BUILDING = '[building]\ntimezone = "UTC"\n[clock]\nlead = "4s"\n[zones.north]\nrelay = 17\n'


class Around:
    """A daemon whose store answers when the test says so."""

    def __init__(self):
        self.told, self.batches = [], []

    def tell_hand(self, message):
        self.told.append(message)
        return True

    def commit(self, batch, records):
        self.batches.append(batch)

    def vouched(self):
        return True

    def wake_at(self, utc): ...
    def answered(self, answer): ...
    def decided(self, decision): ...
    def beat(self, state, *, well): ...


@pytest.fixture
def soon(tmp_path):
    """A building with a ring in one or two seconds, so that its play is decided and not begun."""
    path = tmp_path / "building.toml"
    at = time.strftime("%H:%M:%S", time.gmtime(time.time_ns() // SECOND + 2))
    days = "".join(
        f'{day} = "daily"\n' for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    )
    ring = f'{{ at = "{at}", zones = ["north"], for = "2s" }}'
    path.write_text(f"{BUILDING}[plans.daily]\nrings = [{ring}]\n[week]\n{days}")
    return read(path)


def test_a_ring_by_hand_that_joins_a_play_still_waiting_for_the_store_goes_with_it(soon):
    around = Around()
    now = Now(time.time_ns(), time.monotonic_ns(), "boot", True)
    room = EngineRoom(soon, recover(soon, [], now), around)
    room._look_at_clock()
    room._take(HandReady("hand"))
    assert not [told for told in around.told if isinstance(told, Play)]
    sounding = room.state.zones["north"].sounding
    assert sounding is not None
    assert sounding.play.edges == (0, 2 * SECOND)

    time.sleep(max(0, (sounding.play.start_mono - time.monotonic_ns()) / SECOND))
    room._take(Order(1, "keeper", RingByHand(("north",), 5 * SECOND)))
    assert room.state.zones["north"].sounding.joining is None  # taken, with nobody asked
    for batch in list(around.batches):
        room._take(Stored(batch, True))
    (play,) = (told for told in around.told if isinstance(told, Play))
    assert play.edges[-1] > 5 * SECOND
    assert all(isinstance(told, Play) for told in around.told)


@pytest.mark.parametrize(
    "by", [SECOND, -SECOND, 3_600 * SECOND, -400 * 86_400 * SECOND, SECOND // 20]
)
def test_a_step_of_the_clock_is_found_at_the_next_beat_and_once(soon, monkeypatch, by):
    """Whatever the kernel's timer says: both clocks are slewed alike, so only a step parts them."""
    now = Now(time.time_ns(), time.monotonic_ns(), "boot", True)
    room = EngineRoom(soon, recover(soon, [], now), Around())
    room._look_at_clock()
    real = time.time_ns
    monkeypatch.setattr(time, "time_ns", lambda: real() + by)
    assert room._look_at_clock()
    assert not room._look_at_clock()


def test_what_is_due_is_looked_at_by_the_beat_where_nobody_wakes_the_engine(soon, monkeypatch):
    early = 60 * SECOND
    real_utc, real_mono, later = time.time_ns, time.monotonic_ns, [-early]
    monkeypatch.setattr(time, "time_ns", lambda: real_utc() + later[0])
    monkeypatch.setattr(time, "monotonic_ns", lambda: real_mono() + later[0])
    now = Now(time.time_ns(), time.monotonic_ns(), "boot", True)
    room = EngineRoom(soon, recover(soon, [], now), Around())
    room._look_at_clock()
    room._take(HandReady("hand"))
    room._beat()
    assert room.state.zones["north"].sounding is None
    later[0] = 0  # a minute has gone by, and the ring is less than `lead` away
    room._beat()
    assert room.state.zones["north"].sounding is not None


def test_with_too_many_inputs_it_is_offered_no_more_until_some_are_taken(soon):
    now = Now(time.time_ns(), time.monotonic_ns(), "boot", True)
    room = EngineRoom(soon, recover(soon, [], now), Around())
    assert all(room.offer(Tick()) for _ in range(MOST_INPUTS))
    assert not room.offer(Tick())
    room.start(lambda fault: pytest.fail(repr(fault)))
    room.put(Tick())  # waits until it may
    room.end(20)
    assert not room.alive
