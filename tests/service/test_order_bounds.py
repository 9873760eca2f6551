"""What the socket takes of one caller and of all together, each limit by its effect."""

from __future__ import annotations

import os
import threading
import time

import pytest
from order_desk import (
    AS_ROOT,
    NOBODY,
    STOP,
    Talk,
    counters,
    links_as,
    never,
    no_file_left_open,
    parted,
    until,
)

from controller.service.order_limits import LIMITS, NOTHING
from controller.service.order_server import Reply

KEPT = LIMITS.kept
LONG = {"order": "edit", "file": "week.toml", "text": "#" * 100_000, "was": "x"}


@pytest.fixture
def open_counter():
    with counters() as opened:
        yield opened


@pytest.fixture
def counter(open_counter):
    return open_counter()


def test_one_caller_too_many_is_told_so_and_parted(open_counter):
    counter = open_counter(clients=3)
    talks = [counter.talk() for _ in range(3)]
    assert all(talk.ask(STOP)["ok"] for talk in talks)
    extra = counter.talk()
    assert extra.hear() == {
        "ok": False,
        "says": "The daemon has as many callers as it takes; try again in a moment.",
    }
    assert extra.hung_up()
    talks[0].close()

    def let_in() -> bool:
        return counter.talk().ask(STOP)["ok"] is True

    until(let_in)


@AS_ROOT
def test_the_last_places_are_for_the_daemons_own_user_and_root(open_counter):
    counter = open_counter(clients=4, kept=KEPT._replace(clients=2))
    os.chmod(counter.path, 0o666)
    links = links_as(NOBODY, counter.path, 3)
    others = [counter.talk(link) for link in links]
    assert [talk.ask(STOP)["ok"] for talk in others[:2]] == [True, True]
    assert "as many callers" in others[2].hear()["says"]
    assert [counter.talk().ask(STOP)["ok"] for _ in range(2)] == [True, True]
    assert "as many callers" in counter.talk().hear()["says"]


def test_a_line_may_be_so_long_and_no_longer(open_counter):
    counter = open_counter(line_bytes=10_000, short_line_bytes=100)
    talk = counter.talk()
    assert talk.ask(b"x" * 10_000)["says"].startswith("not understood")
    talk.say(b"x" * 10_001)
    assert talk.hear()["says"] == "A line has at most 10000 bytes; this one has more."
    assert talk.hung_up()


def test_who_says_too_much_is_still_answered_what_it_asked_before(open_counter):
    counter = open_counter(line_bytes=10_000, short_line_bytes=100)
    counter.desk.answer = never
    talk = counter.talk()
    talk.say({"order": "stop", "id": 1})
    counter.desk.wait(lambda: len(counter.desk.owed) == 1)
    talk.say(b"x" * 20_000)
    assert talk.hear()["says"].startswith("A line has at most")
    counter.desk.owed.pop()(Reply(True, "Done."))
    assert talk.hear() == {"id": 1, "ok": True, "says": "Done."}
    assert talk.hung_up()


def test_a_whole_file_is_taken(counter):
    talk = counter.talk()
    assert talk.ask({**LONG, "text": "ä" * 900_000})["ok"] is True
    assert talk.ask(STOP)["ok"] is True
    assert counter.desk.given[0][0].text == "ä" * 900_000


@pytest.mark.parametrize("half_is_first", [True, False])
def test_room_for_a_long_line_is_not_kept_by_who_says_half_of_one(open_counter, half_is_first):
    counter = open_counter(long_lines=1, kept=NOTHING, long_line_ns=500_000_000)
    first, last, third = (counter.talk() for _ in range(3))
    half, whole = (first, last) if half_is_first else (last, first)
    half.link.sendall(b"x" * 10_000)
    for _ in range(5):  # while these are answered, the half line is heard
        assert third.ask(STOP)["ok"] is True, "a short line needs no room"
    began = time.monotonic()
    whole.say(LONG)
    assert half.hear()["says"] == "A long line, and those before it, must be over within 0.5 s."
    assert half.hung_up()
    assert whole.hear()["ok"] is True
    assert time.monotonic() - began < 3


def test_room_for_a_long_line_is_not_kept_by_who_does_not_read_what_came_before(open_counter):
    counter = open_counter(long_lines=1, kept=NOTHING, long_line_ns=500_000_000)
    counter.desk.answer = lambda words: Reply(True, words.order, {"text": "x" * 1_000_000})
    deaf, whole = counter.talk(), counter.talk()
    deaf.say({"order": "files"}, LONG)
    counter.desk.wait(lambda: len(counter.desk.given) == 1)
    for _ in range(5):  # while these are answered, the long line is heard
        whole.ask({"order": "status"})
    assert whole.ask(LONG)["says"] == "edit"
    assert [words.order for words, _ in counter.desk.given] == ["files", "edit"]
    assert deaf.hear()["says"] == "files"
    assert deaf.hear()["says"].startswith("A long line, and those before it")


def test_room_for_a_long_line_is_free_again_when_its_caller_is_gone(open_counter):
    counter = open_counter(long_lines=1, kept=NOTHING, long_line_ns=60_000_000_000)
    gone = Talk(counter.path)
    gone.ask(STOP)
    gone.say(STOP)
    gone.link.sendall(b"x" * 10_000)
    other = counter.talk()
    for _ in range(5):  # while these are answered, the long line is begun
        other.ask({"order": "status"})
    gone.close()  # with an answer unread: that is an error at the other end
    assert other.ask(LONG)["ok"] is True


def test_long_lines_come_one_after_the_other_where_there_is_room_for_one(open_counter):
    counter = open_counter(long_lines=1, long_line_bytes_a_second=10 << 20)
    talks = [counter.talk() for _ in range(10)]
    threads = [threading.Thread(target=talk.say, args=[{**LONG, "id": 1}]) for talk in talks]
    for thread in threads:
        thread.start()
    assert all(talk.hear() == {"id": 1, "ok": True, "says": "Done: edit."} for talk in talks)
    for thread in threads:
        thread.join()


def test_room_rests_after_a_long_line(open_counter):
    counter = open_counter(long_lines=1, long_line_bytes_a_second=500_000)
    talk = counter.talk()
    began = time.monotonic()
    for _ in range(3):
        assert talk.ask(LONG)["ok"] is True
    assert time.monotonic() - began >= 0.4, "twice 100 kB at 500 kB/s"


@AS_ROOT
def test_the_last_room_for_a_long_line_is_kept(open_counter):
    counter = open_counter(long_lines=2, long_line_ns=60_000_000_000)
    os.chmod(counter.path, 0o666)
    for link in links_as(NOBODY, counter.path, 2):
        counter.talk(link).link.sendall(b"x" * 10_000)
    own = counter.talk()
    for _ in range(5):  # while these are answered, the others are heard
        own.ask({"order": "status"})
    assert own.ask(LONG)["ok"] is True


def test_orders_of_one_caller_come_at_their_pace_once_the_burst_is_spent(open_counter):
    counter = open_counter(orders_a_second=20, orders_at_once=5)
    talk = counter.talk()
    began = time.monotonic()
    talk.say(*[STOP] * 15)
    for _ in range(15):
        assert talk.hear()["ok"] is True
    assert 0.5 <= time.monotonic() - began < 3, "ten orders more than the burst, 20 a second"


def test_orders_of_all_together_come_at_a_pace(open_counter):
    counter = open_counter(orders_a_second_in_all=50, kept=NOTHING)
    talks = [counter.talk() for _ in range(5)]
    began = time.monotonic()
    for talk in talks:
        talk.say(*[STOP] * 20)
    for talk in talks:
        for _ in range(20):
            talk.hear()
    assert time.monotonic() - began >= 0.95, "fifty orders more than the burst, 50 a second"


@AS_ROOT
def test_the_last_orders_of_a_burst_are_kept(open_counter):
    counter = open_counter(
        orders_a_second_in_all=10, orders_at_once=50, kept=KEPT._replace(orders_at_once=5)
    )
    os.chmod(counter.path, 0o666)
    (link,) = links_as(NOBODY, counter.path, 1)
    other = counter.talk(link)
    other.say(*[STOP] * 40)
    for _ in range(5):
        other.hear()
    began = time.monotonic()
    own = counter.talk()
    for _ in range(5):
        own.ask(STOP)
    assert time.monotonic() - began < 0.45, "these wait for no pace"


def test_so_many_orders_of_a_caller_wait_for_their_answer_and_no_more(open_counter):
    counter = open_counter(orders_owed=4)
    counter.desk.answer = never
    talk, other = counter.talk(), counter.talk()
    talk.say(*[{"order": "hold", "line": "main", "id": number} for number in range(10)])
    counter.desk.wait(lambda: len(counter.desk.owed) == 4)
    other.say(STOP)
    counter.desk.wait(lambda: len(counter.desk.owed) == 5)
    assert [words.order for words, _ in counter.desk.given] == ["hold"] * 4 + ["stop"]
    counter.desk.owed.pop(0)(Reply(True, ""))
    assert talk.hear()["id"] == 0
    counter.desk.wait(lambda: len(counter.desk.given) == 6)


def test_who_does_not_read_is_given_nothing_more_to_carry_out(counter):
    counter.desk.answer = lambda _: Reply(True, "", {"text": "x" * 1_000_000})
    talk = counter.talk()
    talk.say(*[{"order": "files"}] * 10)
    counter.desk.wait(lambda: len(counter.desk.given) == 1)
    assert counter.talk().ask({"order": "status"})["ok"] is True
    assert len(counter.desk.given) == 1, "its first answer is not read yet"
    for _ in range(10):
        assert len(talk.hear()["text"]) == 1_000_000
    assert len(counter.desk.given) == 10


def test_who_lets_too_much_wait_is_parted(open_counter):
    counter = open_counter(unsent_bytes=1 << 20)
    counter.desk.answer = never
    talk = counter.talk()
    talk.say(*[{"order": "files"}] * 4)
    counter.desk.wait(lambda: len(counter.desk.owed) == 4)
    with no_file_left_open():
        for answered in counter.desk.owed:
            file = os.open("/dev/null", os.O_RDONLY)
            answered(Reply(True, "", {"text": "x" * 600_000}, file))
        assert counter.talk().ask({"order": "status"})["ok"] is True
        until(lambda: parted(talk))
        talk.close()


def test_where_too_much_waits_in_all_the_slowest_is_parted(open_counter):
    counter = open_counter(unsent_bytes_in_all=3 << 20)
    counter.desk.answer = lambda _: Reply(True, "", {"text": "x" * 1_000_000})
    slow = [counter.talk() for _ in range(6)]
    for number, talk in enumerate(slow):
        talk.say({"order": "files"})
        counter.desk.wait(lambda number=number: len(counter.desk.given) == number + 1)
    quick = counter.talk()
    assert len(quick.ask({"order": "files"})["text"]) == 1_000_000
    left = [talk for talk in slow if not parted(talk)]
    assert 2 <= len(left) <= 4, "a part of each answer is in the kernel's keeping"
    assert len(left[-1].hear()["text"]) == 1_000_000


@AS_ROOT
def test_who_does_not_read_takes_nothing_from_the_daemons_own_user(open_counter):
    counter = open_counter(unsent_bytes_in_all=4 << 20, kept=KEPT._replace(unsent_bytes=2 << 20))
    os.chmod(counter.path, 0o666)
    own = counter.talk()
    counter.desk.answer = lambda _: Reply(True, "", {"text": "x" * 1_500_000})
    own.say({"order": "files"})
    counter.desk.wait(lambda: len(counter.desk.given) == 1)
    others = [counter.talk(link) for link in links_as(NOBODY, counter.path, 5)]
    for number, other in enumerate(others, 2):
        other.say({"order": "files"})
        counter.desk.wait(lambda number=number: len(counter.desk.given) == number)
    until(lambda: sum(not parted(other) for other in others) <= 1)
    assert len(own.hear()["text"]) == 1_500_000


def test_who_reads_is_not_parted_for_who_does_not(open_counter):
    counter = open_counter(unsent_bytes_in_all=2 << 20)
    counter.desk.answer = lambda words: Reply(
        True, "", {"text": "x" * 1_500_000} if words.order == "files" else {}
    )
    reads = [counter.talk() for _ in range(5)]
    for number in range(4):
        counter.talk().say({"order": "files"})
        counter.desk.wait(lambda number=number: len(counter.desk.given) == number + 1)
    assert all(talk.ask(STOP)["ok"] for talk in reads)


def test_who_connects_over_and_over_is_let_in_at_a_pace(open_counter):
    counter = open_counter(clients=5, connections_a_second=20, kept=NOTHING)
    began = time.monotonic()
    for _ in range(15):
        talk = Talk(counter.path)
        talk.ask(STOP)
        talk.close()
    assert time.monotonic() - began >= 0.45, "ten more than the burst, 20 a second"


def test_a_caller_may_be_idle(counter):
    talk = counter.talk()
    assert talk.is_silent(0.3)
    assert talk.ask(STOP)["ok"] is True


def test_callers_who_are_held_back_cost_no_time(open_counter):
    counter = open_counter(orders_a_second=1, orders_at_once=1, long_lines=1)
    counter.desk.answer = never
    talks = [counter.talk() for _ in range(10)]
    for talk in talks:
        talk.say(STOP, STOP)
        talk.link.sendall(b"x" * 50_000)
    counter.desk.wait(lambda: len(counter.desk.given) == 10)
    for talk in talks[:5]:
        talk.close()  # of a hang-up, too, nobody is told over and over
    before = time.process_time()
    assert not threading.Event().wait(0.5)
    assert time.process_time() - before < 0.2, "a server that spins takes all of it"
