"""The state, as it is told to who asks once and to who watches."""

from __future__ import annotations

import time

import pytest
from order_desk import STOP, counters, forgive, until

from controller.service.order_server import Reply


@pytest.fixture
def open_counter():
    with counters() as opened:
        yield opened


@pytest.fixture
def counter(open_counter):
    return open_counter()


def test_status_tells_the_state_once(counter):
    counter.desk.count = 5
    answer = counter.talk().ask({"order": "status", "id": 7})
    assert answer == {"id": 7, "ok": True, "says": "The state as it is.", "state": {"count": 5}}
    assert counter.desk.given == []


def test_status_after_an_answer_shows_what_the_order_did(counter):
    def counted(words) -> Reply:
        counter.desk.count += 1
        return Reply(True, "")

    counter.desk.answer = counted
    talk = counter.talk()
    for count in range(1, 20):
        talk.ask(STOP)
        assert talk.ask({"order": "status"})["state"] == {"count": count}


def test_a_state_that_has_not_changed_is_not_drawn_for_everyone_who_asks(counter):
    talk = counter.talk()
    began = time.monotonic()
    for _ in range(30):
        talk.ask({"order": "status"})
    assert counter.desk.drawn <= 4 * (time.monotonic() - began) + 1


def test_a_watcher_is_answered_and_told_the_state_now_and_at_every_change(counter):
    talk = counter.talk()
    assert talk.ask({"order": "watch", "id": 7}) == {
        "id": 7,
        "ok": True,
        "says": "The state follows.",
    }
    assert talk.hear() == {"state": {"count": 0}}
    for count in (1, 2, 3):
        counter.desk.count = count
        counter.server.changed()
        assert talk.hear() == {"state": {"count": count}}


def test_where_nothing_changes_a_watcher_is_told_nothing(counter):
    talk = counter.talk()
    talk.ask({"order": "watch"})
    talk.hear()
    assert talk.is_silent(0.4)
    assert counter.desk.drawn == 1


def test_a_watcher_gives_orders_as_well(counter):
    talk = counter.talk()
    talk.ask({"order": "watch"})
    talk.hear()
    assert talk.ask(STOP)["says"] == "Done: stop."


def test_many_changes_are_told_at_most_four_times_a_second_and_drawn_once_for_all(counter):
    talks = [counter.talk() for _ in range(5)]
    for talk in talks:
        talk.ask({"order": "watch"})
        talk.hear()
    drawn = counter.desk.drawn
    began = time.monotonic()
    told = [0 for _ in talks]
    while (passed := time.monotonic() - began) < 1.2:
        counter.desk.count += 1
        counter.server.changed()
        for number, talk in enumerate(talks):
            if not talk.is_silent(0.001):
                talk.hear()
                told[number] += 1
    assert all(2 <= states <= 4 * passed + 1 for states in told)
    assert counter.desk.drawn - drawn <= 4 * passed + 1, "once for all five"


def test_who_begins_to_watch_is_not_told_twice_at_once(counter):
    old, new = counter.talk(), counter.talk()
    old.ask({"order": "watch"})
    old.hear()
    assert old.is_silent(0.3), "it may be told again at once"
    began = time.monotonic()
    new.ask({"order": "watch"})
    new.hear()
    counter.server.changed()
    old.hear()
    new.hear()
    assert time.monotonic() - began >= 0.25


def test_a_slow_watcher_is_given_the_newest_state_and_no_backlog(counter):
    counter.desk.more = {"ballast": "x" * 500_000}  # more than the kernel keeps for a reader
    slow, quick = counter.talk(), counter.talk()
    for talk in (slow, quick):
        talk.say({"order": "watch"})
    assert quick.hear()["ok"] is True
    assert quick.hear()["state"]["count"] == 0
    for count in (1, 2, 3, 4):
        counter.desk.count = count
        counter.server.changed()
        assert quick.hear()["state"]["count"] == count, "nobody waits for the slow one"
    assert slow.hear()["ok"] is True
    assert slow.hear()["state"]["count"] == 0, "it was half sent"
    assert slow.hear()["state"]["count"] == 4


def test_what_cannot_be_drawn_is_said_and_drawn_again_at_the_next_change(counter):
    talk = counter.talk()
    talk.ask({"order": "watch"})
    talk.hear()
    counter.desk.more = {"no": {1, 2}}
    counter.server.changed()
    until(lambda: counter.failed != [])
    forgive(counter, "set is not JSON serializable")
    answer = talk.ask({"order": "status", "id": 7})
    assert (answer["id"], answer["ok"]) == (7, False)
    assert answer["says"].startswith("A fault in the program itself")
    forgive(counter, "set is not JSON serializable")
    counter.desk.more = {}
    counter.server.changed()
    assert talk.hear() == {"state": {"count": 0}}
