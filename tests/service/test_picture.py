"""The picture of the state: the whole, and each way that zones stand; always small."""

from __future__ import annotations

import json
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from picture_desk import (
    BUILDING,
    CIVIL,
    MINUTE,
    MONO,
    SECOND,
    START,
    at,
    lasting,
    pictured,
    state,
    with_line,
    with_zone,
    zone_in,
)

from controller.engine.contract import Now, Play
from controller.engine.records import FaultRow, LineRow, StepRow
from controller.engine.state import FAR, Given, Sounding, State, Waiting
from controller.service.picture import MOST_FAULTS, MOST_NEXT

# ── the whole ────────────────────────────────────────────────────────────────────────────────────


def test_where_all_is_well_the_picture_says_so_and_what_it_is_a_picture_of():
    picture = pictured(state())
    assert picture["well"] is True
    assert picture["building"] == "Elm House"
    assert picture["timezone"] == "America/Halifax"
    assert picture["fingerprint"] == BUILDING.fingerprint
    assert picture["at"] == "2026-11-25T10:30:10-04:00"
    assert picture["at_utc"] == START
    assert (picture["clock"]["trusted"], picture["clock"]["by"]) == (True, "kernel")
    assert picture["supply"] == {"sensed": True, "there": True}
    assert picture["panel"] == {"north_switch": {"closed": False}}
    assert picture["storing"] is True
    assert picture["faults"] == []
    assert all(line["do"] == "" for line in picture["lines"].values())


@pytest.mark.parametrize(
    ("known", "now"),
    [
        (state(hand=None), at()),
        (state(storing=False), at()),
        (state(supply_lost=((MONO - SECOND, FAR),)), at()),
        (state(faults=lasting("panel.stop", "stays closed")), at()),
        (state(), at(trusted=False)),
    ],
    ids=["hand", "store", "supply", "fault", "clock"],
)
def test_it_is_not_well_without_hand_store_supply_clock_or_with_a_fault_that_lasts(known, now):
    assert pictured(known, now)["well"] is False


def test_faults_that_last_come_first_and_those_that_ended_tell_until_when():
    ended = FaultRow("supply", "the supply is away", START - 3 * MINUTE, START - MINUTE, False)
    faults = {"supply": ended, **lasting("store", "it cannot be written")}
    first, second = pictured(state(faults=faults))["faults"]
    assert first == {
        "name": "store",
        "says": "it cannot be written",
        "since": "2026-11-25T10:29:10-04:00",
        "until": None,
        "settle": [],
    }
    assert second["until"] == "2026-11-25T10:29:10-04:00"
    assert second["settle"] == ["acknowledge"]


def test_what_rings_next_leaves_out_what_an_order_keeps_quiet():
    until = CIVIL.instant(datetime(2026, 12, 1))
    quiet = with_zone("north", quiet_until=until)
    picture = pictured(quiet)
    assert picture["quiet"] == {"north": "2026-12-01T00:00:00-04:00"}
    assert picture["next"][0] == {
        "at": "2026-11-25T12:00:00-04:00",
        "zone": "south",
        "says": "Lunch",
        "seconds": 2.5,
    }
    assert len(picture["next"]) == MOST_NEXT
    assert {ring["zone"] for ring in picture["next"] if ring["at"] < "2026-12-01"} == {"south"}


def test_dates_that_follow_another_plan_are_told_from_today_on():
    known = state(follow=(("2026-11-26", "none"), ("2026-11-24", "none"), ("2026-11-25", "daily")))
    assert pictured(known)["follow"] == {"2026-11-25": "daily", "2026-11-26": "none"}


def test_while_another_file_is_taken_up_what_the_state_lacks_is_left_out():
    known = state()
    known = known._replace(
        zones={"south": known.zones["south"]}, lines={"yard": known.lines["yard"]}
    )
    picture = pictured(known)
    assert list(picture["zones"]) == ["south"]
    assert list(picture["lines"]) == ["yard"]
    assert {ring["zone"] for ring in picture["next"]} == {"south"}


# ── zones ────────────────────────────────────────────────────────────────────────────────────────


def sounding(start: float, length: float) -> Sounding:
    mono = MONO + round(start * SECOND)
    ring = Waiting("north", "2026-11-25T10:30:00", START, ((0, 5 * SECOND),), "First class", "")
    play = Play(9, "hand-1", "zones.north", 0, mono, FAR, (0, round(length * SECOND)))
    return Sounding(play, START, START, (Given(ring, mono),), (), False)


def test_a_zone_is_silent():
    assert zone_in(state()) == {
        "title": "North wing",
        "state": "silent",
        "says": "silent",
        "until": None,
    }


def test_a_zone_sounds_until_its_last_opening_and_says_what_for():
    zone = zone_in(with_zone("north", sounding=sounding(-2, 5)))
    assert zone["state"] == "sounding"
    assert zone["says"] == "SOUNDING, 3 s more: First class"
    assert zone["until"] == "2026-11-25T10:30:13-04:00"


def test_a_sounding_that_is_decided_and_has_not_begun_is_still_silent():
    assert zone_in(with_zone("north", sounding=sounding(0.5, 5)))["state"] == "silent"


def test_a_zone_waits_for_current_and_for_the_supply():
    waiting = (Waiting("north", "2026-11-25T10:30:00", START, ((0, SECOND),), "", "", waited=True),)
    assert zone_in(state(waiting=waiting)) | {"title": ""} == {
        "title": "",
        "state": "waits",
        "says": "waits: there is not enough current yet",
        "until": None,
    }
    away = state(waiting=waiting, supply_lost=((MONO, FAR),))
    assert zone_in(away)["says"] == "waits: the supply is away"
    assert zone_in(state(waiting=waiting, hand=None))["state"] == "waits"


def test_a_ring_that_entered_ahead_of_time_does_not_wait():
    due = START + SECOND
    waiting = (Waiting("north", "2026-11-25T10:30:11", due, ((0, SECOND),), "", ""),)
    assert zone_in(state(waiting=waiting))["state"] == "silent"


def test_a_zone_is_quiet_by_order_until_then():
    until = CIVIL.instant(datetime(2026, 11, 26, 9))
    zone = zone_in(with_zone("north", quiet_until=until))
    assert zone["state"] == "quiet"
    assert zone["says"] == "quiet until Thu 26 Nov 09:00"
    assert zone["until"] == "2026-11-26T09:00:00-04:00"
    assert zone_in(with_zone("north", quiet_until=START))["state"] == "silent"


def test_a_zone_is_switched_off_by_the_panel():
    known = state(panel={"north_switch": True})
    assert zone_in(known)["state"] == "switched-off"
    assert zone_in(known, "south")["state"] == "silent"
    assert pictured(known)["panel"] == {"north_switch": {"closed": True}}


def test_a_zone_with_a_faulty_contact_never_just_says_silent():
    says = "its contact does not open: the bells may be ringing on"
    known = state(faults=lasting("zones.north welded", says))
    assert zone_in(known)["says"] == f"silent; {says}"
    assert zone_in(known, "south")["says"] == "silent"


# ── always ───────────────────────────────────────────────────────────────────────────────────────

instants = st.integers(0, 4 * 10**18)


@st.composite
def rows(draw, name: str) -> LineRow:
    positions = BUILDING.lines[name].positions
    sides = ("+", "-") if name == "main" else ("",)
    step = st.builds(
        StepRow,
        st.integers(0, 99),
        st.sampled_from(sides),
        instants,
        st.integers(0, 2 * MONO),
        st.just("boot"),
        st.booleans(),
        st.booleans(),
    )
    return LineRow(
        name,
        draw(st.booleans()),
        draw(st.integers(0, positions - 1)),
        positions,
        draw(st.sampled_from("+-")),
        draw(st.booleans()),
        draw(st.booleans()),
        draw(st.none() | step),
        draw(instants),
        draw(st.booleans()),
        draw(st.integers(-1, positions - 1)),
    )


@st.composite
def states(draw) -> State:
    known = state(
        storing=draw(st.booleans()),
        hand=draw(st.sampled_from([None, "hand-1"])),
        supply_lost=draw(st.sampled_from([(), ((MONO - SECOND, MONO),), ((MONO, FAR),)])),
        panel=draw(st.dictionaries(st.sampled_from(["north_switch", "gone"]), st.booleans())),
        follow=tuple((f"2026-12-{day:02}", "none") for day in range(1, draw(st.integers(1, 20)))),
        faults={
            name: FaultRow(name, says, since, until, False)
            for name, says, since, until in draw(
                st.lists(st.tuples(st.text(), st.text(), instants, instants), max_size=5)
            )
        },
    )
    for name in BUILDING.lines:
        more = {"steps": draw(st.integers(0, 1440)), "unanswered": draw(st.booleans())}
        line = draw(rows(name))
        play = None
        if line.step is not None and draw(st.booleans()):
            play = Play(1, "hand-1", f"lines.{name}", 0, line.step.start_mono, FAR, (0, SECOND))
        known = with_line(line, known, play=play, **more)
    for name in BUILDING.zones:
        start = draw(st.none() | st.floats(-10, 10))
        known = with_zone(
            name,
            known,
            sounding=None if start is None else sounding(start, 5),
            quiet_until=draw(instants),
        )
    return known


@given(states(), st.booleans(), st.integers(-40 * 86_400, 400 * 86_400))
def test_whatever_the_state_its_picture_is_json_and_the_same_twice(known, trusted, later):
    now = Now(START + later * SECOND, MONO, "boot", trusted)
    picture = pictured(known, now)
    text = json.dumps(picture, allow_nan=False)
    assert json.loads(text) == picture
    assert pictured(known, now) == picture
    assert len(text) < 20_000


def test_ten_thousand_faults_with_long_words_still_make_a_small_picture():
    names = [f"lines.l{number} stuck" for number in range(10_000)]
    faults = {name: lasting(name, "x" * 100_000)[name] for name in names}
    picture = pictured(state(faults=faults))
    assert len(picture["faults"]) == MOST_FAULTS
    assert len(json.dumps(picture)) < 100_000
