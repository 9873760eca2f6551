"""The picture of the state: each way that a line of dials stands."""

from __future__ import annotations

import pytest
from picture_desk import (
    MONO,
    SECOND,
    at,
    impulse,
    lasting,
    line_in,
    row,
    state,
    with_line,
)

from controller.engine.state import FAR


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
