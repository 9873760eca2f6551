"""Acts at the page: what is asked, what reaches the daemon in whose name, what takes it back."""

from __future__ import annotations

from datetime import datetime
from urllib.parse import urlencode

import pytest
from bell_desk import acts, halls
from browsing import Read

from controller.building.civil import CivilTime
from controller.building.kept import Halves
from controller.page.act_times import in_an_hour, next_half
from controller.page.act_words import ACTS, explained
from controller.page.limits import RINGS_A_MINUTE
from controller.page.order_roles import ROLE_OF
from controller.service.order_server import Reply
from controller.service.settling import COMMANDS

HALIFAX = CivilTime("America/Halifax")
SECOND = 1_000_000_000
FORM = {"Content-Type": "application/x-www-form-urlencoded"}
EACH = [  # where, what is typed, the order's keys
    ("/act/ring/north", {"for": "2.5"}, {"zones": ["north"], "for": "2.5s"}),
    ("/act/ring/all", {}, {"zones": ["all"], "for": "3s"}),
    (
        "/act/quiet/north",
        {"until": "time", "time": "2026-11-25T12:00"},
        {"zones": ["north"], "until": "2026-11-25T12:00"},
    ),
    ("/act/lift-quiet/all", {}, {"zones": ["all"]}),
    ("/act/follow", {"date": "2026-11-26"}, {"date": "2026-11-26", "plan": "none"}),
    (
        "/act/follow?date=2026-11-26&plan=usual",
        {},
        {"date": "2026-11-26", "plan": "usual"},
    ),
    ("/act/hold/main", {}, {"line": "main"}),
    ("/act/go/main", {}, {"line": "main"}),
    (
        "/act/set/main",
        {"shows": "08:31", "polarity": "+"},
        {"line": "main", "shows": "08:31", "polarity": "+"},
    ),
    ("/act/set/yard", {"shows": "08:31"}, {"line": "yard", "shows": "08:31"}),
    ("/act/to/main", {"shows": "12:00"}, {"line": "main", "shows": "12:00"}),
    ("/act/step/main", {"impulses": "2"}, {"line": "main", "impulses": 2}),
    ("/act/right/main", {}, {"line": "main"}),
    ("/act/stood/main", {}, {"line": "main"}),
    ("/act/swapped/main", {}, {"line": "main"}),
    ("/act/moved/main", {}, {"line": "main"}),
    ("/act/trust-clock", {}, {}),
    ("/act/acknowledge?fault=supply", {}, {"fault": "supply"}),
    ("/act/stop", {}, {}),
]
IDS = [address for address, _, _ in EACH]


@pytest.fixture
def hall(tmp_path):
    with halls(tmp_path) as found:
        yield found


@pytest.fixture
def bo(hall):
    """Who may act."""
    return hall.person("bo")


def path_of(address: str) -> str:
    return address.partition("?")[0]


def form_on(person, address: str):
    """The form of the act itself; `stop` stands on every page."""
    return [one for one in person.opens(address).forms if one.action == path_of(address)][-1]


def sent(person, address: str, **typed: str):
    form = form_on(person, address)
    return person.client.post(form.action, content=urlencode(form.filled(**typed)), headers=FORM)


# ── what reaches the daemon ──────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("address", "typed", "keys"), EACH, ids=IDS)
def test_an_act_reaches_the_daemon_once_in_the_persons_name_and_its_answer_is_shown(
    hall, bo, address, typed, keys
):
    order = address.split("/")[2].partition("?")[0]
    hall.replies[order] = Reply(True, "So it is <done>.")
    answer = sent(bo, address, **typed)
    assert answer.status_code == 200
    assert hall.given == [(order, keys, "bo")]
    assert "So it is <done>." in Read(answer.text).words


@pytest.mark.parametrize(("address", "typed", "keys"), EACH, ids=IDS)
def test_an_act_is_explained_before_it_is_done_and_looking_does_nothing(
    hall, bo, address, typed, keys
):
    order = address.split("/")[2].partition("?")[0]
    words = bo.opens(address).words
    assert explained(order) in words
    assert ACTS[order].button in words
    assert hall.given == []


@pytest.mark.parametrize("address", IDS)
def test_who_may_only_look_can_do_nothing(hall, address):
    cy = hall.person("cy")
    form = dict(form_on(hall.person("bo"), address).fields)
    assert cy.client.get(address).status_code == 403
    mark = dict(cy.opens("/").form("/sign-out").fields)["csrf"]
    answer = cy.client.post(path_of(address), data={**form, "csrf": mark})
    assert answer.status_code == 403
    assert hall.given == []


@pytest.mark.parametrize("address", IDS)
def test_an_act_without_a_person_or_without_a_mark_of_the_page_is_not_done(hall, bo, address):
    form = dict(form_on(bo, address).fields)
    assert hall.stranger().post(path_of(address), data=form).status_code == 403
    for mark in ("", "x.y", form["csrf"][:-1]):
        answer = bo.client.post(path_of(address), data={**form, "csrf": mark})
        assert answer.status_code == 403
    theirs = dict(hall.person("ada").opens("/").form("/sign-out").fields)["csrf"]
    assert bo.client.post(path_of(address), data={**form, "csrf": theirs}).status_code == 403
    assert hall.given == []


def test_a_form_that_is_sent_twice_rings_once(hall, bo):
    form = form_on(bo, "/act/ring/north")
    for status in (200, 409):
        assert bo.client.post(form.action, data=dict(form.fields)).status_code == status
    assert len(hall.given) == 1


def test_whoever_presses_stop_twice_means_it(hall, bo):
    page = bo.opens("/")
    bo.sends(page, "/act/stop")
    bo.sends(page, "/act/stop")
    assert hall.given == [("stop", {}, "bo")] * 2


def test_a_ring_too_many_in_a_minute_is_not_given_and_stop_always_is(hall, bo):
    for _ in range(RINGS_A_MINUTE):
        assert sent(bo, "/act/ring/north").status_code == 200
    answer = sent(bo, "/act/ring/south")
    assert answer.status_code == 429
    assert "Nothing was done." in answer.text
    assert len(hall.given) == RINGS_A_MINUTE
    assert sent(bo, "/act/stop").status_code == 200


def test_all_bells_are_stopped_from_where_there_is_no_page(hall, bo):
    lost = bo.opens("/nowhere", status=404)
    assert "There is no such page." in lost.words
    bo.sends(lost, "/act/stop")
    assert hall.given == [("stop", {}, "bo")]
    bo.client.cookies.clear()
    assert "Stop all bells" not in bo.opens("/nowhere", status=404).words


@pytest.mark.parametrize(
    "address",
    [
        "/act/dance",
        "/act/ring",
        "/act/ring/main",
        "/act/ring/nowhere",
        "/act/hold/north",
        "/act/hold/all",
        "/act/trust-clock/main",
        "/act/reload",
        "/act/edit",
        "/act/line/nowhere",
    ],
)
def test_there_is_no_act_for_what_the_building_does_not_have(hall, bo, address):
    assert bo.client.get(address).status_code == 404
    mark = dict(bo.opens("/act/ring/north").form("/act/ring/north").fields)["csrf"]
    assert bo.client.post(address, data={"csrf": mark}).status_code in (404, 405)
    assert hall.given == []


# ── what the daemon says ─────────────────────────────────────────────────────────────────────────


def test_a_refusal_is_shown_as_it_was_said_with_what_was_typed(hall, bo):
    hall.replies["set"] = Reply(False, '"25:61" is no time of this face.')
    answer = sent(bo, "/act/set/main", shows="25:61", polarity="-")
    assert answer.status_code == 409
    page = Read(answer.text)
    assert '"25:61" is no time of this face.' in page.words
    again = dict(page.form("/act/set/main").fields)
    assert (again["shows"], again["polarity"]) == ("25:61", "-")
    hall.replies.clear()
    bo.sends(page, "/act/set/main", shows="08:31")
    assert hall.given[-1][1]["shows"] == "08:31"


@pytest.mark.parametrize(
    ("address", "typed", "says"),
    [
        ("/act/quiet/north", {"until": "time"}, "Say until when."),
        ("/act/step/main", {"impulses": "many"}, "How many: expected a whole number"),
        ("/act/step/main", {"impulses": "²"}, "How many: expected a whole number"),
        ("/act/follow", {"date": "tomorrow"}, "a date such as 2026-11-25"),
        ("/act/ring/north", {"for": "x" * 21}, "expected at most 20 letters"),
    ],
)
def test_what_cannot_be_made_out_is_said_and_nothing_is_done(hall, bo, address, typed, says):
    answer = sent(bo, address, **typed)
    assert answer.status_code == 409
    assert says in Read(answer.text).words
    assert hall.given == []


def test_where_the_daemon_is_down_nothing_can_be_done_and_that_is_said(hall, bo):
    forms = {address: form_on(bo, address) for address in IDS}
    hall.ends(hall.picture)
    for address, form in forms.items():
        assert "Nothing can be done from here" in bo.opens(address, 503).words
        answer = bo.client.post(form.action, data=dict(form.fields))
        assert answer.status_code == 503
        assert "Is the daemon running?" in answer.text


# ── the way back ─────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("address", "typed", "back"),
    [
        ("/act/quiet/north", {}, "/act/lift-quiet/north"),
        ("/act/quiet/all", {}, "/act/lift-quiet/all"),
        (
            "/act/follow",
            {"date": "2026-11-26", "plan": "daily"},
            "/act/follow?date=2026-11-26&plan=usual",
        ),
        ("/act/hold/main", {}, "/act/go/main"),
        ("/act/to/main", {"shows": "12:00"}, "/act/go/main"),
        ("/act/go/main", {}, "/act/hold/main"),
    ],
)
def test_what_can_be_taken_back_says_how_at_once(bo, address, typed, back):
    assert acts(sent(bo, address, **typed).text) == {back}
    bo.opens(back)


@pytest.mark.parametrize("address", ["/act/ring/north", "/act/trust-clock", "/act/moved/main"])
def test_what_cannot_be_taken_back_offers_no_way(bo, address):
    assert acts(sent(bo, address).text) == set()


def test_every_order_for_who_may_act_is_an_act_and_whatever_settles_a_thing_is_one():
    assert set(ACTS) == {order for order, role in ROLE_OF.items() if role == "act"}
    assert {order for orders in COMMANDS for order in orders} <= set(ACTS)
    assert {act.back for act in ACTS.values()} - {""} <= set(ACTS)


def test_a_lines_page_has_all_that_can_be_said_to_it(bo):
    html = bo.client.get("/act/line/main").text
    orders = [order for order, act in ACTS.items() if act.about == "line"]
    assert acts(html) == {f"/act/{order}/main" for order in orders}


def test_the_polarity_is_asked_for_where_it_counts(bo):
    assert "polarity" in form_on(bo, "/act/set/main").offered
    assert "polarity" not in form_on(bo, "/act/set/yard").offered


# ── until when ───────────────────────────────────────────────────────────────────────────────────


def at(local: str, fold: int = 0) -> int:
    aware = datetime.fromisoformat(local).replace(tzinfo=HALIFAX.zone, fold=fold)
    return int(aware.timestamp()) * SECOND


@pytest.mark.parametrize(
    ("now", "until"),
    [
        (at("2026-11-25T10:41:07"), "2026-11-25T11:41:07"),
        (at("2026-11-25T23:30"), "2026-11-26T00:30:00"),
        (at("2026-03-08T01:30"), "2026-03-08T03:30:00"),  # 02:30 does not exist that night
        (at("2026-11-01T00:30"), "2026-11-01T01:30:00"),
        (at("2026-11-01T01:30", fold=1), "2026-11-01T02:30:00"),
        # An hour after the first 01:30 is the second, which no written time names (RFC 5545,
        # 3.3.5): the next half hour that can be written.
        (at("2026-11-01T01:30"), "2026-11-01T02:00:00"),
    ],
)
def test_an_hour_is_an_hour_whatever_the_clock_does(now, until):
    assert in_an_hour(HALIFAX, now) == until
    assert HALIFAX.instant_of(until) >= now + 3600 * SECOND


@pytest.mark.parametrize(
    ("now", "words", "until"),
    [
        ("2026-11-25T10:00", "tonight, 18:00", "2026-11-25T18:00"),
        ("2026-11-25T18:00", "the morning, 06:00", "2026-11-26T06:00"),
        ("2026-11-25T03:00", "the morning, 06:00", "2026-11-25T06:00"),
        ("2026-11-25T06:00", "tonight, 18:00", "2026-11-25T18:00"),
    ],
)
def test_tonight_is_when_the_buildings_night_half_begins(now, words, until):
    assert next_half(HALIFAX, Halves(), at(now)) == (words, until)


def test_an_hour_and_tonight_reach_the_daemon_as_times(hall, bo):
    for choice in ("hour", "half"):
        assert sent(bo, "/act/quiet/north", until=choice).status_code == 200
    for _, keys, _ in hall.given:
        assert HALIFAX.instant_of(keys["until"])
