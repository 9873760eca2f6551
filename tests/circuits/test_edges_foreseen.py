"""The hand decides on an edge a moment before its instant: when it may, and that none is early."""

from __future__ import annotations

import time
from itertools import pairwise

import pytest
from board_house import HAND_HOUSE
from hand_bench import SECOND, START, Bench
from sensed_bench import PLUS, SensedBench

from controller.building.file import read
from controller.building.wiring import wiring_of
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.circuits.hand import FORESEEN_NS, SENSE_DEBOUNCE_NS
from controller.circuits.hand_link import HandLink
from controller.engine.contract import Outcome, Play

MS = 1_000_000
ROOM = 300 * MS  # for a machine that is busy with other tests: how long after its instant


def test_the_next_edge_is_the_first_instant_of_any_play() -> None:
    bench = Bench()
    assert bench.rules.next_edge() is None
    bench.play("zones.gong", 0, 2, at=3)
    bench.play("zones.bell", 0, 1, at=1)
    assert bench.rules.next_edge() == START + SECOND
    bench.wait(1)
    assert bench.rules.next_edge() == START + 2 * SECOND


def test_an_edge_is_not_decided_on_before_a_contact_has_had_its_time() -> None:
    """A contact that still may follow is judged when its time is over, and no moment earlier."""
    bench = SensedBench()
    bench.relays[PLUS].stuck = True
    bench.play("lines.main", 0, 1)
    bench.play("zones.gong", 0, 1, at=0.5)
    bench.wait(0.01)
    due = bench.rules.next_instant()
    assert due is not None
    assert due < START + SECOND // 2
    assert bench.rules.next_edge() is None
    bench.wait(0.2)
    assert bench.rules.next_edge() == START + SECOND // 2


def test_nothing_that_a_sense_tells_is_younger_than_what_is_foreseen() -> None:
    assert FORESEEN_NS <= SENSE_DEBOUNCE_NS


@pytest.fixture
def board(tmp_path):
    file = tmp_path / "house.toml"
    file.write_text(HAND_HOUSE)
    path, _ = start_or_find(file, tmp_path)
    yield file, path
    stop(path)


def test_no_edge_is_made_before_its_instant(board) -> None:
    """Ten strokes, on the board's own clock."""
    file, path = board
    link = HandLink("hand")
    link.take(wiring_of(read(file)), path.parent, path)
    edges = tuple(number * 20 * MS for number in range(20))
    start = time.monotonic_ns() + 50 * MS
    link.tell(Play(1, "hand", "zones.north", 0, start, start + 5 * SECOND, edges))
    while not isinstance(outcome := link._hear(), Outcome):
        pass
    link.end()
    link.close()
    with BoardClient(path) as client:
        pins = [change for change in client.log() if change.what == "pin"]
    made = [change.mono for change in pins][: len(edges)]
    assert outcome.how == "done"
    assert outcome.start >= start
    late = [at - outcome.start - edge for at, edge in zip(made, edges, strict=True)]
    assert all(0 <= one < ROOM for one in late), late
    assert all(a < b for a, b in pairwise(made))
