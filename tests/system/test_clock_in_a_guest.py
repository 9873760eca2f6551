"""The guest's own clock: stepped under a live daemon, and lived through a change of civil time."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from figures import note
from guest_at_work import HALL, MINUTE, NORTH, RELAYS, SECOND, WATCH, YARD, at_rest
from judging import HALL_LINE, drive, exact, face, wrong_edges
from machine import Machine
from recording import closings, late_ms

pytestmark = pytest.mark.system

HALIFAX = ZoneInfo("America/Halifax")
NOTICED_SECONDS = 1.0
# Stored before it is given, and the rest after the impulse before: what comes on top of noticing.
BEGUN_SECONDS = NOTICED_SECONDS + 1.0
KEEPERS = "/etc/understudy/building/keeper/20-timetable.toml"
AT_0159 = """\
[plans.night]
rings = [{ at = "01:59", zones = ["north", "yard"], for = "2s" }]
[week]
sun = "night"
"""
SET_CLOCK = Path(__file__).with_name("set_clock.py")


def step(work: Machine, told: int | str) -> int:
    """Step its clock; the monotonic instant of it."""
    return int(work.run("python3", "-I", "-", str(told), given=SET_CLOCK.read_text()).out)


def local_face(work: Machine) -> str:
    now = datetime.fromtimestamp(work.clock() / SECOND, HALIFAX)
    return face((now.hour * 60 + now.minute) % 720)


def test_a_clock_an_hour_ahead_is_noticed_within_a_second_and_the_dials_are_driven(work) -> None:
    step(work, "+0")
    begin, shown = work.record.mark(), local_face(work)
    since = drive(work, HALL_LINE, shown)
    at_rest(work)
    mark = work.record.mark()
    stepped = step(work, f"+{3600 * SECOND}")
    first = min(
        (one.began for one in _given(work, mark, 30)), key=lambda edge: edge.mono, default=None
    )
    assert first is not None, "no impulse follows"
    took = (first.mono - stepped) / SECOND
    note("a step of +1 h until the dials are driven", took, "s", BEGUN_SECONDS)
    assert took <= BEGUN_SECONDS
    work.sleep(65)
    assert work.status()["lines"]["hall"]["state"] == "right"
    assert exact(work, HALL_LINE, since, shown) == local_face(work)
    assert wrong_edges(work.record.since(begin)) == []


def test_a_clock_an_hour_back_lets_the_dials_wait_and_rings_nothing_twice(work) -> None:
    step(work, "+0")
    drive(work, HALL_LINE, local_face(work))
    at_rest(work)
    mark = work.record.mark()
    step(work, f"-{3600 * SECOND}")
    work.sleep(NOTICED_SECONDS + 0.5)
    state = work.status()
    assert "wait" in state["lines"]["hall"]["state"], state["lines"]["hall"]
    assert state["clock"]["trusted"], state["clock"]
    work.sleep(60)
    assert [edge for edge in work.record.since(mark) if edge.line in HALL] == []


@pytest.mark.parametrize("seconds", [2, -2])
def test_after_a_step_of_two_seconds_impulses_are_at_the_new_second(work, seconds) -> None:
    step(work, "+0")
    drive(work, HALL_LINE, local_face(work))
    at_rest(work)
    mark = work.record.mark()
    step(work, f"{seconds * SECOND:+}")
    (one,) = _given(work, mark, 62)[:1]
    late = late_ms(one, round(one.began.utc / MINUTE) * MINUTE)
    note("an impulse after a step of 2 s, after its second", late, "ms", 50)
    assert -1 <= late <= 50


def test_the_spring_night_is_lived_through_and_the_dials_are_right_after_it(work) -> None:
    work.sh("systemctl stop understudy")
    change = datetime(2027, 3, 14, 6, 0, tzinfo=ZoneInfo("UTC"))  # 02:00 AST is 03:00 ADT
    step(work, round(change.timestamp() - 45) * SECOND)
    work.sh("systemctl start understudy")
    begin, shown = work.record.mark(), local_face(work)
    assert shown == "01:59"
    since = drive(work, HALL_LINE, shown)
    work.sleep(45 + 75)
    given = [one for one in closings(work.record.since(since), RELAYS) if one.line in HALL]
    assert len(given) in (61, 62), len(given)
    first = given[0].began.utc - round(change.timestamp()) * SECOND
    note("the first impulse of the spring night, after its second", first / 1e6, "ms", 50)
    assert -1_000_000 <= first <= 50_000_000
    assert exact(work, HALL_LINE, since, shown) == local_face(work)
    assert wrong_edges(work.record.since(begin)) == []


def test_the_autumn_night_is_lived_through_with_a_wait_and_no_ring_twice(work: Machine) -> None:
    """01:59 comes twice, with a ring in it. The clock is stepped through the middle of the wait."""
    work.sh("systemctl stop understudy")
    work.put(KEEPERS, AT_0159)
    change = round(datetime(2027, 11, 7, 5, 0, tzinfo=UTC).timestamp())  # 02:00 ADT is 01:00 AST
    step(work, (change - 90) * SECOND)
    work.sh("systemctl start understudy")
    begin, shown = work.record.mark(), local_face(work)
    assert shown == "01:58"
    since = drive(work, HALL_LINE, shown)
    work.sleep(90 + 70)
    first = [one for one in closings(work.record.since(begin), RELAYS) if one.line != WATCH]
    assert [one.line in HALL for one in first].count(True) == 1, first  # to 01:59, and it waits
    assert sorted(one.line for one in first if one.line not in HALL) == sorted([NORTH, YARD])
    hall = work.status()["lines"]["hall"]
    assert ("wait" in hall["state"], hall["shows"]) == (True, "01:59"), hall
    mark = work.record.mark()
    step(work, (change + 3600 - 75) * SECOND)  # before 01:59, the second time
    work.sleep(75 + 4)
    again = [one for one in closings(work.record.since(mark), RELAYS) if one.line != WATCH]
    assert [one.line in HALL for one in again] == [True], again
    late = late_ms(again[0], (change + 3600) * SECOND)
    note("the first impulse after the autumn night's wait, after its second", late, "ms", 50)
    assert -1 <= late <= 50
    assert exact(work, HALL_LINE, since, shown) == "02:00"
    assert wrong_edges(work.record.since(begin)) == []


def _given(work: Machine, mark: int, seconds: float) -> list:
    """The hall's impulses in so long a time."""
    for _ in range(round(seconds)):
        work.sleep(1)
        found = [one for one in closings(work.record.since(mark), RELAYS) if one.line in HALL]
        if found and found[0].ended is not None:
            return found
    return []
