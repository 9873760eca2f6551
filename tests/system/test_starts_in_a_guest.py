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
from recording import Edge

pytestmark = pytest.mark.system


@pytest.mark.parametrize("chip", ["sticky", "stock"])
def test_a_start_and_a_stop_move_no_relay(work: Machine, chip) -> None:
    times = rounds(10, 100)  # on each chip
    moved, wrong = edges_of_starts(work, chip, times)
    note(f"starts and stops, {chip} chip", times, "times")
    note(f"edges at starts and stops, {chip} chip", len(moved), "edges", 0)
    assert moved == []
    assert wrong == []
    mark = work.record.mark()
    work.sh("systemctl start understudy")
    work.order("ring", zones=["north"], **{"for": "1s"})
    work.record.wait_for(NORTH, 1, mark, 120)  # and the record does see one that moves


def edges_of_starts(work: Machine, chip, times: int) -> tuple[list[Edge], list[str]]:
    """What the relays' lines did meanwhile, on a day without rings; and what no run may show."""
    work.order("follow", date="2026-11-25", plan="none")
    work.sh("systemctl stop understudy")  # in order, on the chip that it was started on
    work.choose_chip(chip)
    mark = work.record.mark()
    for _ in range(times):
        work.sh("systemctl start understudy && systemctl stop understudy")
    edges = work.record.since(mark)
    moved = [edge for edge in edges if edge.line in RELAYS and edge.what == "level"]
    return moved, wrong_edges(edges)
