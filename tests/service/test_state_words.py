"""What a picture of the state comes to: what is to be settled and by which orders, what comes."""

from __future__ import annotations

from typing import Any

import pytest

from controller.pictures.spoken import how_long_ago
from controller.service import settling
from controller.service.orders import ORDERS
from controller.service.settling import command_of
from controller.service.state_words import coming_rings, headline, unsettled

SECOND = 1_000_000_000


def picture(**otherwise: Any) -> dict[str, Any]:
    """All is well at half past eight."""
    return {
        "at": "2026-11-25T08:30:00-04:00",
        "well": True,
        "clock": {"trusted": True, "by": "kernel"},
        "supply": {"sensed": True, "there": True},
        "storing": True,
        "lines": {"main": line()},
        "faults": [],
        "next": [],
        **otherwise,
    }


def line(*orders: str) -> dict[str, Any]:
    return {"settle": list(orders), "do": command_of(orders, "main")}


def test_where_all_is_well_nothing_is_to_be_settled():
    assert unsettled(picture()) == []
    assert headline(picture()) == "All is well."


def test_a_clock_that_nobody_trusts_is_settled_once_and_not_again_for_each_line():
    waiting = {"main": line("trust-clock"), "yard": line("trust-clock")}
    found = unsettled(picture(clock={"trusted": False, "by": "nobody"}, lines=waiting))
    assert [(one.name, one.orders) for one in found] == [("clock", ("trust-clock",))]
    assert found[0].command.endswith("understudy trust-clock")


def test_lines_and_faults_that_ended_are_settled_by_their_orders():
    ended = {"name": "supply", "says": "away", "until": "…", "settle": ["acknowledge"]}
    lasting = {"name": "store", "says": "full", "until": None, "settle": []}
    lines = {"main": line("set"), "yard": line()}
    found = unsettled(picture(lines=lines, faults=[lasting, ended]))
    assert [(one.name, one.orders) for one in found] == [
        ("main", ("set",)),
        ("supply", ("acknowledge",)),
    ]
    assert headline(picture(lines=lines, faults=[ended])).startswith("Running; 2 things to settle")


def test_whatever_settles_a_thing_is_an_order_and_is_named_in_its_command():
    for orders in settling.COMMANDS:
        assert set(orders) <= set(ORDERS)
        for order in orders:
            assert order in command_of(orders, "main")


def test_rings_of_one_instant_and_length_come_together():
    def ring(zone: str, at: str, seconds: float = 3.0) -> dict[str, Any]:
        return {"zone": zone, "at": f"2026-11-25T{at}-04:00", "says": "", "seconds": seconds}

    rings = [ring("north", "09:00:00"), ring("south", "09:00:00"), ring("north", "09:00:00", 5.0)]
    first, second = coming_rings(picture(next=rings))
    assert (first.zones, first.seconds, first.away_ns) == (("north", "south"), 3.0, 1800 * SECOND)
    assert (second.zones, second.seconds) == (("north",), 5.0)


@pytest.mark.parametrize(
    ("seconds", "says"),
    [
        (-1, "at a time that is still to come by this clock"),
        (0, "0 s ago"),
        (119, "119 s ago"),
        (120, "2 min ago"),
        (7199, "119 min ago"),
        (7200, "2 h ago"),
        (172_799, "47 h ago"),
        (172_800, "2 days ago"),
    ],
)
def test_an_age_is_told_in_a_unit_that_one_can_picture(seconds, says):
    assert how_long_ago(seconds * SECOND) == says
