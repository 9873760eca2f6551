"""That what a program orders is done once: its number, and what a replay does."""

from __future__ import annotations

import pytest
from machine_desk import programs

from controller.page.forms import FormRefused
from controller.page.given_once import KEPT_SECONDS, MOST_KEPT, Answer, GivenOnce
from controller.page.order_roles import ONCE, ROLE_OF
from controller.service.order_server import Reply

NORTH = {"zones": ["north"]}
DONE = Answer(200, {"ok": True, "says": "Done."})


@pytest.fixture
def page():
    with programs() as found:
        yield found


def ring(page, number: str | None, keys=NORTH, role: str = "act"):
    headers = page.bearing(role) | ({} if number is None else {"Idempotency-Key": number})
    return page.client.post("/api/orders/ring", json=keys, headers=headers)


def test_a_ring_that_arrives_again_is_answered_alike_and_not_rung_again(page):
    page.desk.reply = Reply(True, "Ringing north, 3 s.")
    first = ring(page, "order-0001")
    page.desk.reply = Reply(True, "Ringing north once more.")
    again = ring(page, "order-0001")
    assert (again.status_code, again.json()) == (first.status_code, first.json())
    assert again.json()["says"] == "Ringing north, 3 s."
    assert len(page.desk.given) == 1


def test_two_rings_by_two_numbers_are_two(page):
    ring(page, "order-0001")
    ring(page, "order-0002")
    assert len(page.desk.given) == 2


def test_two_machines_may_number_alike(page):
    ring(page, "order-0001", role="act")
    ring(page, "order-0001", role="edit")
    assert [who for _, who in page.desk.given] == ["m-act", "m-edit"]


def test_a_number_stands_for_one_order(page):
    ring(page, "order-0001")
    answer = ring(page, "order-0001", {"zones": ["south"]})
    assert answer.status_code == 422
    headers = page.bearing("act") | {"Idempotency-Key": "order-0001"}
    moved = page.client.post("/api/orders/moved", json={"line": "main"}, headers=headers)
    assert moved.status_code == 422
    assert len(page.desk.given) == 1


def test_the_same_order_written_otherwise_is_the_same(page):
    ring(page, "order-0001", {"zones": ["north"], "for": "2s"})
    headers = page.bearing("act") | {
        "Idempotency-Key": '"order-0001"',
        "Content-Type": "application/json",
    }
    body = b' {"for":"2s",\n"zones":["north"]} '
    assert page.client.post("/api/orders/ring", content=body, headers=headers).status_code == 200
    assert len(page.desk.given) == 1


@pytest.mark.parametrize("number", [None, "", "short", "x" * 65, "with space", "a/b/c/d/e"])
def test_without_a_number_of_its_own_nothing_is_done(page, number):
    answer = ring(page, number)
    assert answer.status_code == 400
    assert "Idempotency-Key" in answer.json()["says"]
    assert page.desk.given == []


def test_a_no_is_remembered_like_a_yes(page):
    page.desk.reply = Reply(False, "north is cut out at the panel.")
    assert ring(page, "order-0001").status_code == 409
    page.desk.reply = Reply(True, "Ringing.")
    again = ring(page, "order-0001")
    assert (again.status_code, again.json()["says"]) == (409, "north is cut out at the panel.")
    assert len(page.desk.given) == 1


def test_what_a_daemon_did_that_went_away_is_not_tried_again_by_that_number(page):
    page.server.close(0)
    first = ring(page, "order-0001")
    assert first.status_code == 503
    assert ring(page, "order-0001").json() == first.json()


def test_a_replay_is_no_ring_of_the_minute(page):
    for _ in range(30):
        assert ring(page, "order-0001").status_code == 200
    assert ring(page, "order-0002").status_code == 200


def test_a_ring_that_was_refused_as_too_many_may_be_tried_again_by_its_number(page):
    rings = page.client.app._app.state.rings
    while rings.take("m-act"):
        pass
    assert ring(page, "order-0001").status_code == 429
    page.client.app._app.state.rings._times.clear()
    assert ring(page, "order-0001").status_code == 200


def test_all_that_acts_is_numbered_but_stop():
    acts = {order for order, role in ROLE_OF.items() if role == "act"}
    assert acts - ONCE == {"stop"}
    assert acts >= ONCE


def test_stop_is_heard_twice_and_without_a_number(page):
    headers = page.bearing("act")
    for _ in range(2):
        assert page.client.post("/api/orders/stop", headers=headers).status_code == 200
    assert [words.order for words, _ in page.desk.given] == ["stop", "stop"]


# ── how long, and how many ───────────────────────────────────────────────────────────────────────


class Clock:
    now = 1_000.0

    def __call__(self) -> float:
        return self.now


def given(once: GivenOnce, number: str, machine: str = "m") -> bool:
    """Whether it is done; it is answered at once then."""
    if once.before(machine, number, b"") is not None:
        return False
    once.begin(machine, number, b"")
    once.end(machine, number, DONE)
    return True


def test_a_number_is_kept_for_ten_minutes():
    clock = Clock()
    once = GivenOnce(clock)
    assert given(once, "a")
    clock.now += 600
    assert not given(once, "a")
    clock.now += 0.1
    assert given(once, "a")
    assert KEPT_SECONDS == 600


def test_nothing_is_forgotten_early_to_make_room():
    clock = Clock()
    once = GivenOnce(clock)
    for number in range(MOST_KEPT):
        assert given(once, f"{number}")
    with pytest.raises(FormRefused, match="Over 300 orders in 10 minutes") as refused:
        given(once, "one more")
    assert refused.value.status == 429
    assert not given(once, "0"), "and a replay is still known as one"
    assert given(once, "0", machine="another"), "others have room of their own"
    clock.now += KEPT_SECONDS + 1
    assert given(once, "one more")


def test_what_arrives_again_while_it_is_under_way_is_not_begun_again():
    once = GivenOnce(Clock())
    once.begin("m", "a", b"")
    with pytest.raises(FormRefused, match="not answered yet") as refused:
        once.before("m", "a", b"")
    assert refused.value.status == 409
