"""A hand that measures tells every edge of its senses, as its contact moved."""

from __future__ import annotations

import queue
import tempfile
import time
from pathlib import Path

import pytest
from board_house import HOUSE

from controller.building.file import read
from controller.building.wiring import wiring_of
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.parts import BOUNCES
from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.circuits.hand_link import HandLink
from controller.circuits.wire import Outcome, Sensed, Switched
from controller.engine.contract import Play

MS = 1_000_000
SECOND = 1_000 * MS


@pytest.fixture
def board(tmp_path):
    file = tmp_path / "house.toml"
    file.write_text(HOUSE)
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        path, _ = start_or_find(file, Path(short))
        yield file, path
        stop(path)


def rung(file, path, *, measures):
    """What a hand says while it closes the relay of a zone for half a second, and a while after."""
    link = HandLink("hand")
    link.take(wiring_of(read(file)), path.parent, path, measures=measures)
    words: queue.Queue = queue.Queue()
    link.listen(words.put)
    start = time.monotonic_ns() + 50 * MS
    link.tell(Play(1, "hand", "zones.north", 0, start, start + SECOND, (0, 500 * MS)))
    said = []
    while not said or not isinstance(said[-1], Outcome):
        link.beat(False)
        said.append(words.get(timeout=2))
    give_up = time.monotonic() + 0.3  # so that what the contact does afterwards is heard as well
    while (left := give_up - time.monotonic()) > 0:
        try:
            said.append(words.get(timeout=left))
        except queue.Empty:
            break
    link.end()
    assert link.close() == 0
    return [word for word in said if word is not None]


def test_each_edge_has_the_instant_at_which_the_contact_moved(board):
    file, path = board
    with BoardClient(path) as looker:
        looker.fault("zones.north", "bouncing")
        said = rung(file, path, measures=True)
        moved = [c for c in looker.log() if c.what == "contact" and c.name == "zones.north"]
    edges = [word for word in said if isinstance(word, Sensed) and word.circuit == "zones.north"]
    assert edges[0].closed is False  # as it read when the pins were taken
    assert [(edge.mono, int(edge.closed)) for edge in edges[1:]] == [(c.mono, c.to) for c in moved]
    assert len(moved) == 2 * (1 + 2 * BOUNCES)
    closed, opened = (word.mono for word in said if isinstance(word, Switched))
    assert closed < moved[0].mono  # nothing that follows is earlier than what it follows from
    assert opened < moved[1 + 2 * BOUNCES].mono


def test_a_hand_that_does_not_measure_tells_none(board):
    assert not [word for word in rung(*board, measures=False) if isinstance(word, Sensed)]
