"""The old panel's button and switch, a relay's sense and the supply's, by the chip's own inputs:
what moves them is outside the guest's programs, as a contact is.
"""

from __future__ import annotations

import pytest
from figures import note
from guest_at_work import BUTTON, NORTH, SUPPLY, SWITCH, YARD, at_rest
from judging import HALL_LINE, drive
from machine import Machine

pytestmark = pytest.mark.system

MILLISECOND = 1_000_000
DEBOUNCE_MS = 20
PRESSED_MS = 100  # from the contact to the relay, its bouncing included: a choice
CLOSED, OPEN = False, True  # of the panel's contacts: active low


def test_a_button_rings_while_it_is_pressed(work: Machine) -> None:
    for _ in range(3):
        at_rest(work)
        mark = work.record.mark()
        work.drive(BUTTON, CLOSED)
        pressed = work.record.wait_for(BUTTON, 0, mark, 60)
        rang = work.record.wait_for(NORTH, 1, mark, 60)
        work.sleep(0.5)
        work.drive(BUTTON, OPEN)
        let_go = work.record.wait_for(BUTTON, 1, mark, 60)
        silent = work.record.wait_for(NORTH, 0, mark, 60)
        for began, ended in ((pressed, rang), (let_go, silent)):
            took = (ended.mono - began.mono) / MILLISECOND
            note("from a button to its relay", took, "ms", PRESSED_MS)
            assert DEBOUNCE_MS - 5 <= took <= PRESSED_MS
        work.sleep(1)


def test_a_switch_keeps_its_zone_quiet_and_ends_what_sounds_there(work: Machine) -> None:
    at_rest(work)
    mark = work.record.mark()
    work.order("ring", zones=["yard"], **{"for": "15s"})
    work.record.wait_for(YARD, 0, mark, 60)
    work.drive(SWITCH, CLOSED)
    closed = work.record.wait_for(SWITCH, 0, mark, 60)
    silent = work.record.wait_for(YARD, 1, mark, 60)
    took = (silent.mono - closed.mono) / MILLISECOND
    note("from a switch to its zone's silence", took, "ms", PRESSED_MS)
    assert took <= PRESSED_MS
    mark = work.record.mark()
    work.sleep(62)  # a ring is due in each minute
    assert [edge for edge in work.record.since(mark) if edge.line == YARD] == []
    assert [edge for edge in work.record.since(mark) if edge.line == NORTH] != []
    work.drive(SWITCH, OPEN)
    work.record.wait_for(YARD, 0, mark, 240)


def test_a_sense_wired_to_its_relay_is_content_and_one_that_is_cut_off_is_a_fault(work) -> None:
    at_rest(work)
    mark = work.record.mark()
    work.order("ring", zones=["north"], **{"for": "1s"})
    work.record.wait_for(NORTH, 0, mark, 60)
    assert faults(work, "north") == []
    work.wire()
    at_rest(work)
    mark = work.record.mark()
    work.order("ring", zones=["north"], **{"for": "1s"})
    work.record.wait_for(NORTH, 1, mark, 60)
    work.sleep(1)
    assert any("stuck" in told for told in faults(work, "north")), faults(work, "")


def test_lines_stand_while_the_supply_is_away_and_come_right_after(work: Machine) -> None:
    drive(work, HALL_LINE, "03:00")
    work.sleep(3)
    mark = work.record.mark()
    work.drive(SUPPLY, False)
    work.record.wait_for(SUPPLY, 0, mark, 60)
    work.sleep(2.5)
    mark = work.record.mark()
    work.sleep(5)
    assert [edge for edge in work.record.since(mark) if edge.line in HALL_LINE.relays] == []
    assert not work.status()["supply"]["there"]
    work.drive(SUPPLY, True)
    work.record.wait_for(HALL_LINE.relays[0], 0, mark, 60)
    assert work.status()["supply"]["there"]


def faults(work: Machine, about: str) -> list[str]:
    """Those that last, about this zone."""
    told = [one for one in work.status()["faults"] if one["until"] is None]
    return [f"{one['name']}: {one['says']}" for one in told if about in one["name"]]
