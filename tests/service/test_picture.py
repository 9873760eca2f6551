"""The picture of the state: each way that zones and lines stand; always JSON, and always small."""

from __future__ import annotations

import json
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.building.file import building_of
from controller.building.sheets import Source
from controller.engine.contract import Now, Play
from controller.engine.records import FaultRow, LineRow, StepRow
from controller.engine.recover import recover
from controller.engine.state import FAR, Given, Sounding, State, Waiting
from controller.service.picture import MOST_FAULTS, MOST_NEXT, state_picture

SECOND = 1_000_000_000
MINUTE = 60 * SECOND
TEXT = """
[building]
name = "Elm House"
timezone = "America/Halifax"
[supply]
sense = 26
[zones.north]
title = "North wing"
relay = 17
[zones.south]
relay = 18
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [22, 23]
[lines.yard]
drive = "single"
relays = [24]
every = "30s"
[panel.north_switch]
pin = 5
does = "quiet"
zones = ["north"]
[plans.daily]
rings = [
  { at = "08:30", zones = ["north"], for = "5s", says = "First class" },
  { at = "12:00", zones = ["north", "south"], strokes = [1, 0.5, 1], says = "Lunch" },
]
[week]
mon = "daily"
tue = "daily"
wed = "daily"
"""
BUILDING = building_of("elm.toml", [Source("elm.toml", TEXT.encode())])
CIVIL = BUILDING.civil
# A Wednesday; between rings.
START = CIVIL.instant(datetime(2026, 11, 25, 10, 30, 10))
MONO = 5_000 * SECOND


def at(seconds: float = 0, *, trusted: bool = True) -> Now:
    """So many seconds after 10:30:10."""
    later = round(seconds * SECOND)
    return Now(START + later, MONO + later, "boot", trusted)


def row(line: str, shows: str, **more) -> LineRow:
    """A line that is read and shows this."""
    positions = BUILDING.lines[line].positions
    hours, minutes = map(int, shows.split(":"))
    shown = (hours * 60 + minutes) * (positions // 720) % positions
    return LineRow(
        line, True, shown, positions, "-", False, False, None, START - 8 * SECOND
    )._replace(**more)


def state(**more) -> State:
    """All is well: a hand, the supply, both lines right."""
    rows = (row("main", "10:30"), row("yard", "10:30"))
    return recover(BUILDING, rows, at())._replace(**{"hand": "hand-1", **more})


def with_line(line: LineRow, before: State | None = None, **more) -> State:
    known = before or state()
    changed = known.lines[line.line]._replace(row=line, **more)
    return known._replace(lines={**known.lines, line.line: changed})


def with_zone(zone: str, before: State | None = None, **more) -> State:
    known = before or state()
    return known._replace(zones={**known.zones, zone: known.zones[zone]._replace(**more)})


def lasting(name: str, says: str) -> dict[str, FaultRow]:
    return {name: FaultRow(name, says, START - MINUTE, 0, False)}


def pictured(known: State, now: Now | None = None, by: str = "kernel"):
    now = now or at()
    clock = {"trusted": now.trusted, "by": by, "error_seconds": None, "says": ""}
    return state_picture(BUILDING, known, now, clock)


def line_in(known: State, name: str = "main", now: Now | None = None):
    return pictured(known, now)["lines"][name]


def zone_in(known: State, name: str = "north", now: Now | None = None):
    return pictured(known, now)["zones"][name]


def impulse(start: float, *, counts: bool = True) -> dict:
    """An impulse of the main line, out since so many seconds after 10:30:10."""
    mono = MONO + round(start * SECOND)
    step = StepRow(7, "+", START + mono - MONO, mono, "boot", counts, False)
    return {"step": step, "play": Play(7, "hand-1", "lines.main", 0, mono, FAR, (0, SECOND))}


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


# ── lines ────────────────────────────────────────────────────────────────────────────────────────


def test_a_line_is_right():
    assert line_in(state()) == {
        "title": "Classrooms",
        "drive": "alternating",
        "state": "right",
        "shows": "10:30",
        "doubtful": False,
        "right_at": None,
        "impulses": None,
        "polarity": "-",
        "last_impulse": "2026-11-25T10:30:02-04:00",
        "says": "shows 10:30, right",
        "do": "",
        "settle": [],
    }


def test_a_single_line_has_no_polarity_and_a_half_minute_line_shows_seconds():
    line = line_in(state(), "yard")
    assert line["polarity"] == ""
    assert line["shows"] == "10:30:00"


def test_within_the_impulse_that_makes_it_right_a_line_is_right():
    out = impulse(50)
    known = with_line(row("main", "10:30", step=out["step"]), play=out["play"])
    assert line_in(known, now=at(50.4))["state"] == "right"


def test_an_impulse_that_corrects_dials_does_not_make_a_line_right():
    out = impulse(50, counts=False)
    known = with_line(row("main", "10:30", step=out["step"]), play=out["play"], steps=2)
    line = line_in(known, now=at(50.4))
    assert line["state"] == "driven"
    assert line["says"].endswith("3 extra impulses to come")


# Five behind at 10:30:10: five impulses, every other second, so right at the end of the fifth.
@pytest.mark.parametrize(
    ("seconds", "given", "out"),
    [(0, 0, 0), (0.9, 0, 0), (1.2, 1, None), (2.7, 1, 2), (4.5, 2, 4), (6.5, 3, 6), (7.3, 4, None)],
)
def test_a_driven_line_foretells_one_instant_of_being_right_all_along(seconds, given, out):
    known = with_line(row("main", f"10:{25 + given}"), rest_until=MONO + 2 * given * SECOND)
    if out is not None:
        more = impulse(out)
        known = with_line(
            known.lines["main"].row._replace(step=more["step"]), known, play=more["play"]
        )
    line = line_in(known, now=at(seconds))
    assert line["state"] == "driven"
    assert line["right_at"] == "2026-11-25T10:30:19-04:00"
    assert line["impulses"] == 5 - given
    number = "1 impulse" if given == 4 else f"{5 - given} impulses"
    assert line["says"] == f"shows 10:{25 + given}, is driven: right at 10:30:19, after {number}"


def test_dials_ahead_of_time_wait_for_it():
    line = line_in(with_line(row("main", "11:30")))
    assert line["state"] == "waiting"
    assert line["right_at"] == "2026-11-25T11:30:00-04:00"
    assert line["impulses"] is None
    assert line["says"] == "shows 11:30, ahead of time: stands until time reaches it, at 11:30:00"


def test_a_held_line_names_the_command_that_lets_it_go():
    line = line_in(with_line(row("main", "09:00", held=True)))
    assert line["state"] == "held"
    assert line["says"] == "shows 09:00, held"
    assert line["do"] == "understudy lines main go, or set HH:MM"
    assert line["settle"] == ["go", "set"]
    assert line["right_at"] is None


def test_an_unread_line_shows_nothing_and_asks():
    unread = row("main", "00:00", read=False, polarity_known=False, last_utc=0)
    line = line_in(with_line(unread))
    assert line["state"] == "unread"
    assert line["shows"] is None
    assert line["polarity"] == ""
    assert line["last_impulse"] is None
    assert line["do"] == "understudy lines main set HH:MM"
    assert line["settle"] == ["set"]


def test_a_line_that_is_driven_to_a_time_is_held_there():
    known = with_line(row("main", "09:58", target=row("main", "10:00").shown))
    line = line_in(known, now=at(trusted=False))
    assert line["state"] == "driven"
    assert line["impulses"] == 2
    assert line["says"] == "shows 09:58, is driven to 10:00 and held there"
    assert line["right_at"] is None


@pytest.mark.parametrize(
    ("known", "now", "why"),
    [
        (state(), at(trusted=False), "the clock is not trusted"),
        (state(hand=None), at(), "nothing holds the relays at present"),
        (state(supply_lost=((MONO, FAR),)), at(), "the supply is away"),
        (
            state(
                faults=lasting("lines.main+ welded", "its contact does not open: the line stands")
            ),
            at(),
            "its contact does not open: the line stands",
        ),
        (
            with_line(row("main", "10:30"), unanswered=True),
            at(),
            "its relay's contact did not close",
        ),
    ],
)
def test_a_line_stands_without_clock_hand_supply_or_contact_and_says_why(known, now, why):
    line = line_in(known, now=now)
    assert line["state"] == "stands"
    assert line["says"] == f"shows 10:30, stands: {why}"
    asks_for_trust = "understudy trust-clock" in line["do"]
    assert asks_for_trust is (not now.trusted)
    assert line["settle"] == (["trust-clock"] if asks_for_trust else [])


def test_a_supply_that_came_back_and_a_contact_that_is_slow_let_a_line_go_on():
    known = state(
        supply_lost=((MONO - SECOND, MONO),),
        faults=lasting("lines.main+ slow", "its contact moves late"),
    )
    assert line_in(known)["state"] == "right"


@pytest.mark.parametrize(
    ("name", "held", "settle", "do"),
    [
        (
            "main",
            False,
            ["right", "stood"],
            "look at the dials: understudy lines main right, or stood",
        ),
        (
            "main",
            True,
            ["right", "set"],
            "look at the dials: understudy lines main right, or set HH:MM",
        ),
        (
            "yard",
            False,
            ["right", "hold"],
            "look at the dials: understudy lines yard right; if they are not, hold, then set HH:MM",
        ),
    ],
)
def test_a_doubtful_line_asks_a_person_to_look(name, held, settle, do):
    line = line_in(with_line(row(name, "10:30", doubtful=True, held=held)), name)
    assert line["doubtful"] is True
    assert line["says"].endswith(", doubtful")
    assert (line["settle"], line["do"]) == (settle, do)


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
