"""Starts and stops, with relays that a high and a low level energises, on the chip that keeps a
line's level and on the stock one: no edge that was not asked for.
"""

from __future__ import annotations

import pytest
from figures import note
from full import rounds
from guest_at_work import NORTH, RELAYS
from judging import wrong_edges
from machine import Machine

pytestmark = pytest.mark.system


@pytest.mark.parametrize("chip", ["sticky", "stock"])
def test_a_start_and_a_stop_move_no_relay(work: Machine, chip) -> None:
    work.order("follow", date="2026-11-25", plan="none")
    work.sh("systemctl stop understudy")  # in order, on the chip that it was started on
    work.choose_chip(chip)
    mark = work.record.mark()
    times = rounds(10, 200)
    for _ in range(times):
        work.sh("systemctl start understudy && systemctl stop understudy")
    seen = [edge for edge in work.record.since(mark) if edge.line in RELAYS]
    blips = [edge for edge in seen if edge.what == "level"]
    note(f"starts and stops, {chip} chip", times, "times")
    note(f"edges at starts and stops, {chip} chip", len(blips), "edges", 0)
    assert blips == []
    assert wrong_edges(work.record.since(mark)) == []
    work.sh("systemctl start understudy")
    work.order("ring", zones=["north"], **{"for": "1s"})
    work.record.wait_for(NORTH, 1, mark, 120)  # and the record does see one that moves
