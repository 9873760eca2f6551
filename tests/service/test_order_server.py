"""The daemon's socket before a desk that a test holds in its hands: orders, answers, its end."""

from __future__ import annotations

import json
import os
import pwd
import socket
import tempfile
import threading
import time
from pathlib import Path

import pytest
from order_desk import (
    AS_ROOT,
    NOBODY,
    STOP,
    Counter,
    counters,
    forgive,
    links_as,
    never,
    no_file_left_open,
    until,
)
from test_order_words import SHORTEST

from controller.service.order_limits import LIMITS
from controller.service.order_server import OrderServer, Reply
from controller.service.order_wire import MOST_ANSWER_BYTES
from controller.service.orders import ORDERS
from controller.service.page_user import page_uid, page_uid_on_a_fake_board

ME = pwd.getpwuid(os.getuid()).pw_name


@pytest.fixture
def folder():
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        os.chmod(short, 0o755)
        yield Path(short)


@pytest.fixture
def open_counter():
    with counters() as opened:
        yield opened


@pytest.fixture
def counter(open_counter):
    return open_counter()


# ── orders and answers ───────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("order", [name for name in ORDERS if name not in ("status", "watch")])
def test_an_order_goes_to_the_desk_with_who_gave_it(counter, order):
    answer = counter.talk().ask({"order": order, "id": 7, **SHORTEST[order]})
    assert answer == {"id": 7, "ok": True, "says": f"Done: {order}."}
    ((words, who),) = counter.desk.given
    assert (words.order, who) == (order, ME)


def test_what_the_desk_adds_comes_with_the_answer(counter):
    counter.desk.answer = lambda _: Reply(True, "2 entries.", {"entries": [1, {"a": None}]})
    answer = counter.talk().ask({"order": "logbook"})
    assert answer == {"ok": True, "says": "2 entries.", "entries": [1, {"a": None}]}


def test_the_desk_may_say_no(counter):
    counter.desk.answer = lambda _: Reply(False, "main is not held.")
    answer = counter.talk().ask({"order": "go", "line": "main"})
    assert answer == {"ok": False, "says": "main is not held."}


def test_a_line_that_is_no_order_is_answered_and_the_talk_goes_on(counter):
    talk = counter.talk()
    assert talk.ask(b"ring north") == {
        "ok": False,
        "says": "not understood: expected one JSON object a line",
    }
    assert talk.ask({"order": "rign", "id": 3})["id"] == 3
    assert talk.ask(STOP)["ok"] is True
    assert len(counter.desk.given) == 1


def test_answers_come_when_they_are_there_and_keep_their_numbers(counter):
    counter.desk.answer = lambda words: None if words.order == "hold" else Reply(True, "")
    talk = counter.talk()
    talk.say({"order": "hold", "line": "main", "id": 1}, {"order": "stop", "id": 2})
    assert talk.hear()["id"] == 2
    counter.desk.owed.pop()(Reply(True, "Held."))
    assert talk.hear() == {"id": 1, "ok": True, "says": "Held."}


def test_an_order_in_pieces_is_one_order(counter):
    talk = counter.talk()
    for byte in json.dumps(STOP).encode() + b"\n":
        talk.link.sendall(bytes([byte]))
    assert talk.hear()["ok"] is True


def test_who_has_said_all_is_still_answered(counter):
    counter.desk.answer = never
    talk = counter.talk()
    talk.say(STOP)
    talk.link.shutdown(socket.SHUT_WR)
    counter.desk.wait(lambda: len(counter.desk.owed) == 1)
    counter.desk.owed.pop()(Reply(True, "Done."))
    assert talk.hear()["says"] == "Done."
    assert talk.hung_up()


def test_a_line_without_an_end_is_not_obeyed(counter):
    talk = counter.talk()
    talk.link.sendall(json.dumps(STOP).encode())
    talk.link.shutdown(socket.SHUT_WR)
    assert "The last line has no end" in talk.hear()["says"]
    assert talk.hung_up()
    assert counter.desk.given == []


def test_an_answer_to_somebody_who_has_gone_is_let_go(counter):
    counter.desk.answer = never
    with no_file_left_open():
        talk = counter.talk()
        talk.say(STOP, {"order": "backup"})
        counter.desk.wait(lambda: len(counter.desk.owed) == 2)
        talk.close()
        counter.desk.owed.pop()(Reply(True, "A copy.", {}, os.open("/dev/null", os.O_RDONLY)))
        counter.desk.owed.pop()(Reply(True, "Done."))
    assert counter.talk().ask({"order": "status"})["ok"] is True


# ── who it is ────────────────────────────────────────────────────────────────────────────────────


@AS_ROOT
@pytest.mark.parametrize("uid", [NOBODY, 54_321])
def test_another_user_is_known_by_name_or_else_by_number(counter, uid):
    os.chmod(counter.path, 0o666)  # for this test: it is in no group
    (link,) = links_as(uid, counter.path, 1)
    counter.talk(link).ask(STOP)
    ((_, who),) = counter.desk.given
    assert who == ("uid 54321" if uid == 54_321 else pwd.getpwuid(NOBODY).pw_name)


def test_who_it_is_is_looked_up_once_a_connection(counter, monkeypatch):
    looked = []
    real = pwd.getpwuid
    monkeypatch.setattr(pwd, "getpwuid", lambda uid: looked.append(uid) or real(uid))
    talk = counter.talk()
    for _ in range(3):
        talk.ask(STOP)
    assert looked == [os.getuid()]


@pytest.mark.parametrize("order", [name for name in ORDERS if name not in ("status", "watch")])
def test_the_pages_own_user_gives_an_order_in_the_name_of_a_person(open_counter, order):
    counter = open_counter(page=os.getuid())
    said = {"order": order, **SHORTEST[order], "who": "Åsa Ek"}
    assert counter.talk().ask(said)["ok"] is True
    ((_, who),) = counter.desk.given
    assert who == "Åsa Ek"


def test_where_the_page_names_nobody_it_gives_the_order_itself(open_counter):
    counter = open_counter(page=os.getuid())
    counter.talk().ask(STOP)
    ((_, who),) = counter.desk.given
    assert who == ME


@pytest.mark.parametrize("page", [None, NOBODY])
@pytest.mark.parametrize("order", ORDERS)
def test_nobody_but_the_page_gives_an_order_in_anothers_name(open_counter, order, page):
    counter = open_counter(page=page)
    talk = counter.talk()
    answer = talk.ask({"order": order, "id": 7, **SHORTEST[order], "who": "Åsa Ek"})
    assert (answer["id"], answer["ok"]) == (7, False)
    assert answer["says"].startswith('"who" is taken only from the user that runs')
    assert counter.desk.given == []
    assert talk.ask(STOP)["ok"] is True


@AS_ROOT
def test_not_even_root_speaks_for_another_where_the_page_has_a_user_of_its_own(open_counter):
    counter = open_counter(page=NOBODY)
    os.chmod(counter.path, 0o666)  # for this test: it is in no group
    (link,) = links_as(NOBODY, counter.path, 1)
    assert counter.talk().ask({**STOP, "who": "Åsa Ek"})["ok"] is False
    assert counter.talk(link).ask({**STOP, "who": "Åsa Ek"})["ok"] is True
    assert [who for _, who in counter.desk.given] == ["Åsa Ek"]


def test_the_pages_user_is_its_own_account_or_the_one_that_is_named(monkeypatch):
    asked = []
    real = pwd.getpwnam
    monkeypatch.setattr(pwd, "getpwnam", lambda name: asked.append(name) or real(name))
    monkeypatch.setenv("UNDERSTUDY_PAGE_USER", ME)
    assert page_uid() == os.getuid()
    monkeypatch.setenv("UNDERSTUDY_PAGE_USER", "no-such-account")
    assert page_uid() is None is page_uid_on_a_fake_board()
    monkeypatch.delenv("UNDERSTUDY_PAGE_USER")
    assert page_uid_on_a_fake_board() == os.geteuid(), "whoever tries it out"
    page_uid()
    assert asked == [ME, "no-such-account", "no-such-account", "understudy-page"]


# ── faults of the desk ───────────────────────────────────────────────────────────────────────────


def test_a_fault_of_the_desk_is_told_and_the_server_goes_on(counter):
    def broken(words) -> Reply:
        raise ZeroDivisionError("of the desk")

    counter.desk.answer = broken
    talk = counter.talk()
    answer = talk.ask({"order": "stop", "id": 7})
    assert (answer["id"], answer["ok"]) == (7, False)
    assert answer["says"].startswith("A fault in the program itself")
    forgive(counter, "of the desk")
    counter.desk.answer = lambda _: Reply(True, "Well again.")
    assert talk.ask(STOP)["says"] == "Well again."


@pytest.mark.parametrize(
    "more", [{"x": object()}, {"x": float("nan")}, {"ok": True}, {"x": {"y": {1}}}]
)
def test_an_answer_that_cannot_be_said_is_a_fault_and_its_file_is_closed(counter, more):
    talk = counter.talk()
    talk.ask(STOP)
    with no_file_left_open():
        counter.desk.answer = lambda _: Reply(True, "", more, os.open("/dev/null", os.O_RDONLY))
        assert talk.ask(STOP)["says"].startswith("A fault in the program itself")
    assert len(counter.failed) == 1
    counter.failed.clear()


def test_an_order_that_is_answered_twice_is_answered_once(counter):
    counter.desk.answer = never
    talk = counter.talk()
    talk.say({"order": "stop", "id": 1})
    counter.desk.wait(lambda: len(counter.desk.owed) == 1)
    answered = counter.desk.owed.pop()
    with no_file_left_open():
        answered(Reply(True, "first"))
        answered(Reply(True, "second", {}, os.open("/dev/null", os.O_RDONLY)))
        assert talk.hear()["says"] == "first"
    assert talk.ask({"order": "status", "id": 2})["id"] == 2
    forgive(counter, "answered twice")


def test_who_hears_of_faults_may_have_one_too(folder):
    def failed(fault: BaseException) -> None:
        raise RuntimeError("of whoever hears of faults")

    counter = Counter(folder)
    counter.server._failed = failed
    counter.server.start()
    counter.desk.answer = lambda _: 1 // 0
    talk = counter.talk()
    assert talk.ask(STOP)["ok"] is False
    assert talk.ask(STOP)["ok"] is False
    counter.close()


def test_an_answer_that_is_too_long_for_anybody_is_not_sent(counter):
    counter.desk.answer = lambda _: Reply(True, "", {"text": "x" * MOST_ANSWER_BYTES})
    answer = counter.talk().ask({"order": "files", "id": 7})
    assert (answer["id"], answer["ok"]) == (7, False)
    assert answer["says"].startswith("The answer is too long: 41943")


def test_the_longest_answer_is_sent(counter):
    text = "x" * (MOST_ANSWER_BYTES - 100)
    counter.desk.answer = lambda _: Reply(True, "", {"text": text})
    assert counter.talk().ask({"order": "files"})["text"] == text


def test_a_file_that_is_none_parts_its_caller_and_no_other(counter):
    talk, other = counter.talk(), counter.talk()
    counter.desk.answer = lambda _: Reply(True, "A copy.", {}, 9_999)
    talk.say({"order": "backup"})
    assert talk.hung_up()
    assert other.ask({"order": "status"})["ok"] is True


# ── files ────────────────────────────────────────────────────────────────────────────────────────


def test_a_file_comes_with_its_answer_and_is_closed_here(counter, tmp_path):
    copy = tmp_path / "copy"
    copy.write_text("the store")

    def given(words) -> Reply:
        return Reply(True, "A copy.", {}, os.open(copy, os.O_RDONLY))

    counter.desk.answer = given
    talk = counter.talk()
    with no_file_left_open():
        talk.say({"order": "backup"})
        data, (file,), _, _ = socket.recv_fds(talk.link, 65_536, 4)
        assert json.loads(data)["says"] == "A copy."
        with os.fdopen(file) as stream:
            assert stream.read() == "the store"


def test_files_that_somebody_sends_along_are_not_kept(counter):
    talk = counter.talk()
    talk.ask(STOP)
    with no_file_left_open(), open("/dev/null") as file:
        socket.send_fds(talk.link, [json.dumps(STOP).encode() + b"\n"], [file.fileno()] * 3)
        assert talk.hear()["ok"] is True


# ── its end ──────────────────────────────────────────────────────────────────────────────────────


def test_at_the_end_what_is_owed_is_answered_if_it_comes_in_time(folder):
    counter = Counter(folder)
    counter.server.start()
    counter.desk.answer = never
    talk, idle = counter.talk(), counter.talk()
    idle.ask({"order": "watch"})
    talk.say({"order": "stop", "id": 1})
    counter.desk.wait(lambda: len(counter.desk.owed) == 1)
    closing = threading.Thread(target=counter.server.close, args=[10])
    began = time.monotonic()
    closing.start()
    until(lambda: not counter.path.exists())
    counter.desk.owed.pop()(Reply(True, "Done."))
    assert talk.hear() == {"id": 1, "ok": True, "says": "Done."}
    assert talk.hung_up()
    closing.join()
    assert time.monotonic() - began < 5, "nobody is waited for who is owed nothing"


def test_where_nothing_is_owed_the_end_waits_for_nobody(folder):
    counter = Counter(folder)
    counter.server.start()
    counter.talk().ask(STOP)
    began = time.monotonic()
    counter.server.close(10)
    assert time.monotonic() - began < 5
    counter.close()


def test_at_the_end_what_is_owed_and_does_not_come_is_answered_so(folder):
    counter = Counter(folder, LIMITS._replace(orders_owed=1))
    counter.server.start()
    counter.desk.answer = never
    talk = counter.talk()
    talk.say({"order": "stop", "id": 1}, {"order": "stop", "id": 2})
    counter.desk.wait(lambda: len(counter.desk.owed) == 1)
    idle = counter.talk()
    idle.ask({"order": "status"})
    counter.server.close(0.1)
    assert talk.hear() == {"id": 2, "ok": False, "says": "The daemon ends; nothing was done."}
    last = talk.hear()
    assert (last["id"], last["ok"]) == (1, False)
    assert last["says"] == "The daemon ends; what came of the order is not known."
    assert talk.hung_up()
    assert idle.hung_up()
    with no_file_left_open():
        counter.desk.owed[0](Reply(True, "late", {}, os.open("/dev/null", os.O_RDONLY)))
    counter.server.changed()
    counter.close()


def test_the_socket_is_gone_with_its_server_and_nothing_stays_open(folder):
    with no_file_left_open():
        counter = Counter(folder)
        counter.server.start()
        counter.talk().ask({"order": "watch"})
        counter.close()
        assert os.listdir(folder) == []
        counter.server.close(0)  # twice does no harm


def test_a_server_that_was_never_started_can_be_closed(folder):
    with no_file_left_open():
        Counter(folder).server.close(1)
        assert os.listdir(folder) == []


def test_the_socket_of_a_later_daemon_is_left_alone(folder):
    first = Counter(folder)
    first.path.unlink()
    second = Counter(folder)
    first.close()
    assert second.path.exists()
    second.close()


def test_who_comes_before_the_start_is_answered_then(folder):
    counter = Counter(folder)
    talk = counter.talk()
    talk.say(STOP)
    counter.server.start()
    assert talk.hear()["ok"] is True
    counter.close()


def test_a_second_daemon_is_refused(counter):
    with pytest.raises(FileExistsError, match="a daemon runs already"):
        OrderServer(counter.path, counter.desk, None)
    assert counter.talk().ask(STOP)["ok"] is True
