"""The orders for other programs: who may give which, what reaches the daemon, what is answered."""

from __future__ import annotations

import json
import re

import pytest
from machine_desk import programs

from controller.page.api_description import description
from controller.page.limits import RINGS_A_MINUTE
from controller.page.order_roles import ROLE_OF
from controller.service.order_server import Reply
from controller.service.orders import ORDERS

SHORTEST = {  # what each order that acts must have
    "ring": {"zones": ["north"]},
    "quiet": {"zones": ["all"], "until": "2026-11-30"},
    "lift-quiet": {"zones": ["north"]},
    "follow": {"date": "2026-12-01", "plan": "none"},
    "set": {"line": "main", "shows": "08:30"},
    "to": {"line": "main", "shows": "08:30"},
    **{name: {"line": "main"} for name in ("hold", "go", "step", "right", "stood", "swapped")},
    "moved": {"line": "main"},
    "edit": {"file": "gable.toml", "text": "", "was": ""},
}
RANKS = ("look", "act", "edit")


@pytest.fixture
def page():
    with programs() as found:
        yield found


def test_every_order_has_a_role_or_cannot_be_given_through_the_page():
    assert set(ORDERS) - set(ROLE_OF) == {"watch", "backup"}
    assert set(ROLE_OF) <= set(ORDERS)


@pytest.mark.parametrize("order", sorted(set(ROLE_OF) - {"status"}))
def test_an_order_reaches_the_daemon_in_the_machines_name_from_those_alone_who_may(page, order):
    keys = SHORTEST.get(order, {})
    enough = RANKS.index(ROLE_OF[order])
    for rank, role in enumerate(RANKS):
        page.desk.given.clear()
        answer = page.order(order, role, json=keys)
        if rank < enough:
            assert answer.status_code == 403
            assert answer.json()["ok"] is False
            assert page.desk.given == []
            continue
        assert answer.status_code == 200
        assert answer.json().items() >= {"ok": True, "says": "Done."}.items()
        ((words, who),) = page.desk.given
        # What only looks is asked in the page's own name: it stands in no logbook.
        assert who == (f"m-{role}" if ROLE_OF[order] == "act" else who)
        told = words.model_dump(by_alias=True, exclude_unset=True, exclude={"who"})
        assert told == {"order": order, "id": told["id"], **keys}


def test_the_state_is_told_as_the_daemon_has_it(page):
    answer = page.order("status", "look").json()
    assert answer["ok"] is True
    assert answer["state"] == json.loads(json.dumps(page.desk.picture))


@pytest.mark.parametrize(
    "header",
    [
        None,
        "Bearer",
        "Bearer ",
        "Bearer x" * 50,
        "Basic bS1hY3Q6eA==",
        "Bearer sha256:00",
        "Bearer m-act",
    ],
)
@pytest.mark.parametrize("address", ["/api", "/metrics"])
def test_nobody_without_a_token_is_told_anything(page, header, address):
    headers = {} if header is None else {"Authorization": header}
    answer = page.client.get(address, headers=headers)
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"  # RFC 6750, 3
    assert set(answer.json()) == {"ok", "says"}
    assert page.client.post("/api/orders/stop", headers=headers).status_code == 401
    assert page.desk.given == []


def test_what_is_kept_of_a_token_is_no_token(page):
    kept = page.client.app._app.state.people.now().machines["m-act"].token
    page.tokens["act"] = kept
    assert page.order("stop").status_code == 401


def test_a_cookie_opens_nothing_to_a_program(page):
    state = page.client.app._app.state
    number = state.sessions.begin("anna", state.people.now().people["anna"].password)
    page.client.cookies.set("understudy", number)
    assert page.client.get("/timetable", follow_redirects=False).status_code == 200
    page.desk.given.clear()  # what that page looked at
    assert page.client.post("/api/orders/stop").status_code == 401
    assert page.client.get("/metrics").status_code == 401
    assert page.desk.given == []


def test_a_token_opens_no_page(page):
    for address in ("/timetable", "/logbook", "/edit"):
        answer = page.client.get(address, headers=page.bearing("edit"), follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/sign-in")


@pytest.mark.parametrize("key", ["who", "id", "order"])
def test_no_program_gives_an_order_in_anothers_name_or_another_order(page, key):
    answer = page.order("right", json={"line": "main", key: "stop"})
    assert answer.status_code == 400
    assert f'"{key}" is not for callers' in answer.json()["says"]
    assert page.desk.given == []


@pytest.mark.parametrize(
    ("body", "kind", "status", "says"),
    [
        (b"{", "application/json", 400, "expected one JSON object"),
        (b"\xff", "application/json", 400, "expected one JSON object"),
        (b"[" * 5_000, "application/json", 400, "expected one JSON object"),
        (b'["north"]', "application/json", 400, "expected a JSON object with"),
        (b'{"zones": NaN}', "application/json", 400, "plain JSON"),
        (b'{"zones": []}', "application/json", 400, '"zones": expected at least one entry'),
        (b'{"zone": ["north"]}', "application/json", 400, 'did you mean "zones"?'),
        (b'{"zones": ["north"]}', "text/plain", 415, "expected JSON"),
        (b'{"zones": ["north"]}', "", 415, "expected JSON"),
        (b" " * 65_537, "application/json", 413, "at most 65536 bytes"),
    ],
)
def test_what_is_no_order_is_refused_in_words(page, body, kind, status, says):
    more = {"Content-Type": kind} if kind else {}
    headers = page.bearing("act") | page.numbered() | more
    answer = page.client.post("/api/orders/ring", content=body, headers=headers)
    assert answer.status_code == status
    assert says in answer.json()["says"]
    assert page.desk.given == []


def test_a_whole_file_may_be_given_and_no_more(page):
    keys = {"file": "gable.toml", "text": "#" * 900_000, "was": ""}
    assert page.order("edit", "edit", json=keys).status_code == 200
    keys["text"] = "#" * (1 << 20)
    assert page.order("edit", "edit", json=keys).status_code == 413


def test_who_rings_too_often_is_told_to_wait_and_can_still_stop_all(page):
    answers = [page.order("ring", json={"zones": ["north"]}) for _ in range(RINGS_A_MINUTE + 3)]
    assert [one.status_code for one in answers] == [200] * RINGS_A_MINUTE + [429] * 3
    assert answers[-1].headers["retry-after"] == "60"
    assert page.order("stop").status_code == 200
    assert [words.order for words, _ in page.desk.given].count("ring") == RINGS_A_MINUTE


def test_the_daemons_no_is_told_in_its_words(page):
    page.desk.reply = Reply(False, "There is no zone nort; did you mean north?")
    answer = page.order("ring", json={"zones": ["nort"]})
    assert answer.status_code == 409
    assert answer.json() == {"ok": False, "says": "There is no zone nort; did you mean north?"}


def test_that_no_daemon_answers_is_told(page):
    page.server.close(0)
    answer = page.order("stop")
    assert answer.status_code == 503
    assert "Nobody answers" in answer.json()["says"]


def test_a_machine_that_is_removed_may_nothing_from_then_on(page):
    people = page.client.app._app.state.settings.people
    page.order("stop")
    people.write_text("")
    assert page.order("stop").status_code == 401
    assert len(page.desk.given) == 1


def test_the_description_is_what_openapi_3_1_asks_of_one(page):
    """OpenAPI 3.1.0, 4.8: required fields, unique operation ids, keys of components, references."""
    told = page.client.get("/api", headers=page.bearing("look")).json()
    assert told == json.loads(json.dumps(description()))
    assert re.fullmatch(r"3\.1\.\d+", told["openapi"])
    assert set(told["info"]) >= {"title", "version"}
    assert all(path.startswith("/") for path in told["paths"])
    assert all(len(path) == 1 for path in told["paths"].values())
    operations = [one for path in told["paths"].values() for one in path.values()]
    assert len({one["operationId"] for one in operations}) == len(operations)
    for one in operations:
        assert one["responses"]
        for status, response in one["responses"].items():
            assert re.fullmatch(r"[1-5]\d\d", status)
            assert response["description"]
        assert set(one.get("requestBody", {}).get("content", ["application/json"])) == {
            "application/json"
        }
        for parameter in one.get("parameters", []):
            assert parameter["in"] in ("query", "header")
            assert set(parameter) >= {"name", "schema"}
    for name in (name for part in told["components"].values() for name in part):
        assert re.fullmatch(r"[a-zA-Z0-9._-]+", name)
    for used in re.findall(r'"\$ref": "([^"]+)"', json.dumps(told)):
        place = told
        for step in used.removeprefix("#/").split("/"):
            place = place[step]
    (named,) = told["security"]
    assert set(named) == set(told["components"]["securitySchemes"])


def test_every_order_is_described_with_the_keys_that_the_daemon_knows():
    paths = description()["paths"]
    for order, role in ROLE_OF.items():
        if (path := paths.get(f"/api/{order}")) is not None:
            told = path["get"]
            keys = {one["name"]: one for one in told.get("parameters", [])}
        else:
            told = paths[f"/api/orders/{order}"]["post"]
            keys = told["requestBody"]["content"]["application/json"]["schema"]["properties"]
        fields = ORDERS[order].model_fields
        named = {field.alias or name for name, field in fields.items()} - {"order", "id", "who"}
        assert set(keys) == named
        assert all(one["description"] for one in keys.values())
        assert role in told["description"]


# ── what is asked for by GET ─────────────────────────────────────────────────────────────────────


def test_the_logbook_is_asked_for_with_a_query(page):
    headers = page.bearing("look")
    answer = page.client.get("/api/logbook?since=2026-11-01&most=7&before=12", headers=headers)
    assert answer.status_code == 200
    ((words, _),) = page.desk.given
    told = words.model_dump(exclude_unset=True, exclude={"id"})
    assert told == {"order": "logbook", "since": "2026-11-01", "most": 7, "before": 12}


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("most=many", '"most": expected a whole number'),
        ("most=0", '"most": expected 1 or more'),
        ("most=-1", '"most": expected a whole number'),
        ("most=" + "9" * 5_000, '"most": expected a whole number'),
        ("before=" + "9" * 20, '"before": expected 4611686018427387904 or less'),
        ("most=1&most=2", '"most" is said twice'),
        ("sinze=2026-11-01", 'did you mean "since"?'),
        ("since=%0A", '"since": expected printable text'),
        ("who=anna", '"who" is not for callers'),
        ("id=7", '"id" is not for callers'),
    ],
)
def test_a_query_that_is_none_is_refused_in_words(page, query, says):
    answer = page.client.get(f"/api/logbook?{query}", headers=page.bearing("look"))
    assert answer.status_code == 400
    assert says in answer.json()["says"]
    assert page.desk.given == []


@pytest.mark.parametrize("order", ["stop", "ring", "edit", "watch", "backup", "preview"])
def test_nothing_is_done_by_asking_for_an_address(page, order):
    for address in (f"/api/{order}", f"/api/orders/{order}"):
        assert page.client.get(address, headers=page.bearing("edit")).status_code in (404, 405)
    assert page.desk.given == []


@pytest.mark.parametrize("order", ["watch", "backup", "status", "logbook", "Stop", "stop/x"])
def test_what_is_not_offered_there_cannot_be_given(page, order):
    headers = page.bearing("edit") | page.numbered()
    answer = page.client.post(f"/api/orders/{order}", headers=headers)
    assert answer.status_code == 404
    assert page.desk.given == []


# ── wrong tokens ─────────────────────────────────────────────────────────────────────────────────


def test_after_three_wrong_tokens_an_address_is_told_to_wait(page):
    wrong = {"Authorization": "Bearer of-nobody"}
    answers = [page.client.get("/metrics", headers=wrong) for _ in range(4)]
    assert [one.status_code for one in answers] == [401, 401, 429, 429]
    assert 0 < int(answers[-1].headers["retry-after"]) <= 2
    assert page.client.post("/api/orders/stop", headers=wrong).status_code == 429


def test_wrong_tokens_keep_neither_right_ones_nor_people_waiting(page):
    wrong = {"Authorization": "Bearer of-nobody"}
    for _ in range(10):
        page.client.get("/metrics", headers=wrong)
    assert page.order("stop").status_code == 200
    signing = page.client.post("/sign-in", data={"name": "anna", "password": "not hers"})
    assert signing.status_code == 403, "heard, and not right"


def test_who_brings_no_token_has_not_tried_one(page):
    assert [page.client.get("/metrics").status_code for _ in range(10)] == [401] * 10
