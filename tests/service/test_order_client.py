"""Speaking to a daemon, from the command line's end of the socket."""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from order_desk import AS_ROOT, NOBODY, Counter, never, no_file_left_open, said_as

from controller.circuits.folders import make_folder
from controller.service.order_client import NoDaemon, OrderClient, Refused
from controller.service.order_limits import LIMITS
from controller.service.order_server import Reply
from controller.service.order_wire import MOST_ANSWER_BYTES, MOST_LINE_BYTES, SOCKET


@pytest.fixture
def runtime():
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        os.chmod(short, 0o755)
        yield make_folder(Path(short, "run"))


@pytest.fixture
def counter(runtime):
    counter = Counter(runtime)
    counter.server.start()
    yield counter
    counter.close()
    assert counter.failed == []


@pytest.fixture
def client(counter):
    with OrderClient(counter.path.parent) as client:
        yield client


def daemon_that(runtime: Path, does: Callable[[socket.socket], object]) -> threading.Thread:
    """Something at the socket that is no daemon of ours."""
    listener = socket.socket(socket.AF_UNIX)
    listener.bind(str(runtime / SOCKET))
    listener.listen()

    def serve() -> None:
        link, _ = listener.accept()
        with listener, link, contextlib.suppress(ConnectionError):
            does(link)

    thread = threading.Thread(target=serve)
    thread.start()
    return thread


def test_an_order_is_asked_and_answered(client, counter):
    answer = client.ask("ring", zones=["north"], **{"for": "3s"})
    assert (answer["ok"], answer["says"]) == (True, "Done: ring.")
    ((words, _),) = counter.desk.given
    assert (words.order, words.zones, words.for_) == ("ring", ["north"], "3s")


def test_several_orders_go_through_one_connection(client):
    assert client.ask("status")["state"] == {"count": 0}
    assert client.ask("stop")["says"] == "Done: stop."
    assert client.ask("files")["says"] == "Done: files."


def test_what_the_daemon_refuses_is_raised_with_its_words(client, counter):
    counter.desk.answer = lambda _: Reply(False, "main is not held.", {"line": "main"})
    with pytest.raises(Refused, match=r"^main is not held\.$") as refused:
        client.ask("go", line="main")
    assert refused.value.answer["line"] == "main"
    with pytest.raises(Refused, match='no order "rign"; did you mean "ring"'):
        client.ask("rign")
    counter.desk.answer = lambda _: Reply(True, "Yes.")
    assert client.ask("stop")["says"] == "Yes."


def test_text_of_any_letters_goes_through(client, counter):
    text = 'says = "Große Pause 🔔"\n' + "ü" * 500_000
    client.ask("edit", file="week.toml", text=text, was="x")
    assert counter.desk.given[0][0].text == text
    with pytest.raises(Refused, match="text of whole characters"):
        client.ask("edit", file="week.toml", text="\ud800", was="x")


def test_a_whole_file_of_the_keepers_goes_through_and_more_is_refused_here(client, counter):
    text = 'x = "a"\n' * (1 << 17)
    assert client.ask("edit", file="week.toml", text=text, was="x")["ok"] is True
    with pytest.raises(Refused, match="edit: too long for the daemon: "):
        client.ask("edit", file="week.toml", text="x" * MOST_LINE_BYTES, was="x")
    assert len(counter.desk.given) == 1


def test_an_answer_that_does_not_come_in_time_says_so_and_its_lateness_disturbs_nobody(
    client, counter
):
    counter.desk.answer = never
    with pytest.raises(NoDaemon, match="has not answered in time; whether it obeyed") as fault:
        client.ask("hold", seconds=0.05, line="main")
    assert fault.value.may_run
    counter.desk.wait(lambda: len(counter.desk.owed) == 1)
    with no_file_left_open():
        file = os.open("/dev/null", os.O_RDONLY)
        counter.desk.owed.pop()(Reply(True, "late", {}, file))
        counter.desk.answer = lambda _: Reply(True, "in time")
        assert client.ask("stop")["says"] == "in time"


def test_a_watcher_is_told_every_change(client, counter):
    states = client.watch()
    assert next(states) == {"count": 0}
    for count in (1, 2):
        counter.desk.count = count
        counter.server.changed()
        assert next(states) == {"count": count}


def test_a_watcher_may_give_orders_between_two_states(client, counter):
    states = client.watch()
    next(states)
    counter.desk.answer = lambda words: None if words.order == "hold" else Reply(True, "Yes.")
    counter.desk.count = 1
    counter.server.changed()
    assert client.ask("stop")["says"] == "Yes."
    assert next(states) == {"count": 1}


def test_a_watcher_whose_daemon_ends_is_told(client, counter):
    states = client.watch()
    next(states)
    counter.server.close(0)
    with pytest.raises(NoDaemon, match="went away") as fault:
        next(states)
    assert not fault.value.may_run


def test_a_file_comes_with_its_answer(client, counter, tmp_path):
    copy = tmp_path / "copy"
    copy.write_text("the store")
    counter.desk.answer = lambda _: Reply(True, "A copy.", {}, os.open(copy, os.O_RDONLY))
    with no_file_left_open():
        answer, file = client.take_file("backup")
        assert answer["says"] == "A copy."
        assert not os.get_inheritable(file)
        with os.fdopen(file) as stream:
            assert stream.read() == "the store"


def test_a_file_that_nobody_asked_for_is_closed(client, counter):
    counter.desk.answer = lambda _: Reply(True, "", {}, os.open("/dev/null", os.O_RDONLY))
    with no_file_left_open():
        client.ask("backup")


def test_an_answer_without_its_file_is_no_answer(client, counter):
    with pytest.raises(NoDaemon, match="answered without the file that belongs to it"):
        client.take_file("backup")
    counter.desk.answer = lambda _: Reply(False, "No room.")
    with pytest.raises(Refused, match="No room"):
        client.take_file("backup")


# ── where there is none ──────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("stale", [False, True])
def test_where_no_daemon_is_that_is_said_and_how_to_name_another(runtime, stale):
    if stale:
        with socket.socket(socket.AF_UNIX) as listener:
            listener.bind(str(runtime / SOCKET))
    with pytest.raises(NoDaemon) as fault, no_file_left_open():
        OrderClient(runtime)
    assert str(fault.value) == (
        f"Nobody answers at {runtime / SOCKET}. Is the daemon running? "
        "--runtime or UNDERSTUDY_RUNTIME names its runtime folder."
    )
    assert not fault.value.may_run


def test_a_folder_with_too_long_a_name_is_no_traceback(runtime):
    with pytest.raises(NoDaemon, match="path too long"):
        OrderClient(runtime / ("x" * 200))


@AS_ROOT
@pytest.mark.parametrize("group", [None, "games"])
def test_who_may_not_speak_is_told_who_may(runtime, group):
    counter = Counter(runtime, group=group)
    counter.server.start()

    def attempt() -> str:
        with pytest.raises(NoDaemon) as fault:
            OrderClient(runtime)
        assert fault.value.may_run
        return str(fault.value)

    who = (
        "its owner and root may, and the group that `understudy run` was told, if any"
        if group is None
        else "members of the group games may"
    )
    wanted = f"{runtime / SOCKET}: this user may not give orders; {who}."
    assert said_as(NOBODY, attempt) == wanted
    counter.close()


def test_who_is_one_too_many_is_told_so(runtime):
    counter = Counter(runtime, LIMITS._replace(clients=1))
    counter.server.start()
    with OrderClient(runtime) as first, OrderClient(runtime) as second:
        assert first.ask("stop")["ok"] is True
        with pytest.raises(Refused, match="as many callers as it takes"):
            second.ask("stop")
    counter.close()


def test_a_daemon_that_does_not_listen_is_not_waited_for_for_ever(runtime):
    with socket.socket(socket.AF_UNIX) as deaf:
        deaf.bind(str(runtime / SOCKET))
        deaf.listen(0)
        with OrderClient(runtime, 0.1) as client:
            with pytest.raises(NoDaemon, match="does not listen"):
                OrderClient(runtime, 0.1)
            with pytest.raises(NoDaemon, match="does not listen") as fault:
                client.ask("edit", file="a", text="x" * 1_000_000, was="b")
            assert fault.value.may_run


@pytest.mark.parametrize(
    ("said", "says"),
    [
        (b"", "went away without an answer"),
        (b'{"id":1,"ok":', "went away without an answer"),
        (b"220 ready\n", "says what a daemon of this program would not"),
        (b"[]\n", "says what a daemon of this program would not"),
        (b"\xff\xfe\n", "says what a daemon of this program would not"),
        (b"x" * (MOST_ANSWER_BYTES + 100_000), "says more than a daemon of this program would"),
    ],
)
def test_what_is_no_answer_is_not_taken_for_one(runtime, said, says):
    thread = daemon_that(runtime, lambda link: link.recv(1000) and said and link.sendall(said))
    with OrderClient(runtime) as client, pytest.raises(NoDaemon, match=says):
        client.ask("stop")
    thread.join()


def test_a_daemon_that_parts_says_why(runtime):
    thread = daemon_that(runtime, lambda link: link.sendall(b'{"ok":false,"says":"full"}\n'))
    with OrderClient(runtime) as client:
        thread.join()
        with pytest.raises(Refused, match="full"):
            client.ask("stop")


def test_a_client_imports_little():
    code = (
        "import sys, controller.service.order_client as c;"
        "print(len({'pydantic', 'asyncio', 'typer', 'sqlite3'} & sys.modules.keys()))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "0\n"


def test_a_client_that_is_closed_leaves_nothing_open_on_either_side(counter):
    with no_file_left_open(), OrderClient(counter.path.parent) as client:
        client.ask("stop")
