"""A tape unfolded to plans and a week."""

from __future__ import annotations

from datetime import time

from tape_weeks import SINCE, building

from controller.editing.tape_unfold import unfold

HOUSE = """
[building]
timezone = "Europe/London"
[zones.north]
relay = 17
[zones.south]
relay = 18
[quiet]
north = ["sat night", "sun"]
south = ["mon night", "tue night", "wed night", "thu night", "fri night", "sat night", "sun night"]
[tape]
length = "12h"
starts = "06:00"
for = "4s"
[tape.holes]
north = ["02:30"]
south = ["02:30", "03:00"]
"""


def unfolded(*more: str):
    return unfold(building(HOUSE + "".join(more)), SINCE)


def times(plan) -> list[tuple[str, tuple[str, ...]]]:
    return [(f"{ring.at:%H:%M}", ring.zones) for ring in plan.rings]


def test_weekdays_that_ring_alike_have_one_plan_named_by_the_first():
    found = unfolded()
    assert found.week == {
        **dict.fromkeys(range(1, 6), "tape-mon"),
        6: "tape-sat",
        7: "tape-sun",
    }
    assert times(found.plans["tape-mon"]) == [
        ("08:30", ("north", "south")),
        ("09:00", ("south",)),
        ("20:30", ("north",)),
    ]
    assert times(found.plans["tape-sun"]) == [("08:30", ("south",)), ("09:00", ("south",))]


def test_holes_that_never_ring_are_told():
    assert unfolded().never_heard == {"south": (time(20, 30), time(21))}


def test_a_weekday_on_which_nothing_rings_has_no_plan():
    quiet = HOUSE.replace('"sat night", "sun"]', '"sat night", "sun", "mon"]')
    quiet = quiet.replace('south = ["mon night"', 'south = ["mon"')
    assert 1 not in unfold(building(quiet), SINCE).week


def test_the_plan_that_a_weekday_has_is_kept_whole_and_the_tapes_rings_come_to_it():
    regular = '[plans.regular]\nrings = [{ at = "12:00", zones = ["*"], strokes = [1, 1, 1] }]\n'
    found = unfolded(regular, '[week]\nmon = "regular"\n')
    plan = found.plans["tape-mon"]
    assert plan.like == "regular"
    whole = plan.whole(building(HOUSE + regular))
    assert [ring.at for ring in whole] == [time(8, 30), time(9), time(12), time(20, 30)]
    assert found.week[2] == "tape-tue"
    assert found.plans["tape-tue"].like == "none"


def test_a_weekday_to_which_the_tape_adds_nothing_keeps_its_plan():
    quiet = HOUSE.replace('"sat night", "sun"]', '"sat night", "sun", "mon"]')
    quiet = quiet.replace('south = ["mon night"', 'south = ["mon"')
    regular = '[plans.regular]\nrings = [{ at = "12:00", zones = ["south"], for = "2s" }]\n'
    found = unfold(building(quiet + regular + '[week]\nmon = "regular"\n'), SINCE)
    assert found.week[1] == "regular"


def test_another_plan_of_that_name_is_left_alone():
    other = '[plans.tape-mon]\nrings = [{ at = "12:00", zones = ["south"], for = "2s" }]\n'
    assert unfolded(other).week[1] == "tape-mon-2"


def test_a_plan_of_an_earlier_unfolding_is_used_again():
    same = """[plans.tape-sun]
rings = [
  { at = "08:30", zones = ["south"], for = "4s" },
  { at = "09:00", zones = ["south"], for = "4s" },
]
"""
    assert unfolded(same).week[7] == "tape-sun"


def test_what_a_date_with_lifted_quiet_rows_rings_is_in_the_plan_of_its_weekday():
    lifted = '[[calendar]]\non = "2027-05-09"\nplan = "usual"\nlift_quiet = true\n'
    found = unfolded(lifted)
    assert times(found.plans["tape-sun"])[-1] == ("21:00", ("south",))
    assert found.never_heard == {}
