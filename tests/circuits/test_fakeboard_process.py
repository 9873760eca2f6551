"""The fake board as a process of its own, on its socket; and its pins as the hand holds them."""

from __future__ import annotations

import json
import os
import select
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from board_house import HOUSE
from gpiozero import DigitalInputDevice, OutputDevice

from controller.circuits.fakeboard import server as server_module
from controller.circuits.fakeboard.client import MOST_EDGES, BoardClient
from controller.circuits.fakeboard.pins import FakePins
from controller.circuits.fakeboard.spawning import FOUND, board_socket, start_or_find, stop
from controller.circuits.lines import InputEdge, InputLine, PinsFault

MS = 1_000_000
OUTPUTS = {17: False, 27: True, 22: False, 23: False, 13: False}
INPUTS = {20: InputLine("low", 20 * MS), 24: InputLine("high", 2 * MS)}


@pytest.fixture
def runtime():
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long
        yield Path(short)


@pytest.fixture
def house(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(HOUSE)
    return path


@pytest.fixture
def board(house, runtime):
    path, started = start_or_find(house, runtime)
    assert started
    yield path
    if path.exists():
        stop(path)


@pytest.fixture
def looker(board):
    """Somebody who looks at the board, and follows it."""
    with BoardClient(board) as looker:
        looker.follow()
        yield looker


@pytest.fixture
def pins(board):
    with FakePins(board, OUTPUTS, INPUTS) as pins:
        yield pins


def change(what, name, to=None):
    return lambda one: (one.what, one.name) == (what, name) and to in (None, one.to)


def contact(board, name):
    (closed,) = (relay["closed"] for relay in board.state()["relays"] if relay["name"] == name)
    return closed


def board_log(board):
    with BoardClient(board) as looker:
        return looker.log()


def readable(pins, seconds):
    return bool(select.select([pins], [], [], seconds)[0])


# ── the process ──────────────────────────────────────────────────────────────────────────────────


def test_a_board_that_runs_is_found_with_all_that_it_shows(board, house, looker):
    looker.set_dials("main", 511, "+")
    assert start_or_find(house, board.parent) == (board, False)
    assert looker.state()["lines"]["main"]["texts"] == ["08:31"] * 3


def test_two_that_start_a_board_at_once_get_the_same_one(house, runtime):
    path = board_socket(runtime)
    command = [sys.executable, "-m", "controller.circuits.fakeboard", str(house), str(path)]
    both = [subprocess.Popen(command) for _ in range(2)]
    assert sorted(one.wait(20) for one in both) == [0, FOUND]
    stop(path)


def test_a_board_that_was_killed_is_replaced(board, house, looker):
    os.kill(looker.state()["process"], signal.SIGKILL)
    with pytest.raises(PinsFault, match="gone"):
        looker.wait_for(lambda _: False)
    assert board.exists()  # what a killed one leaves behind
    assert start_or_find(house, board.parent) == (board, True)


def test_a_board_told_to_end_leaves_no_socket_and_takes_its_followers_leave(board, looker):
    stop(board)
    assert not board.exists()
    with pytest.raises(PinsFault, match="gone"):
        looker.wait_for(lambda _: False)
    with pytest.raises(PinsFault, match=r"No fake board answers.*--fake"):
        BoardClient(board)


def test_a_file_with_faults_starts_no_board_and_says_which(house, runtime):
    house.write_text(HOUSE.replace("relay = 17", "relay = 99"))
    with pytest.raises(PinsFault, match="99") as fault:
        start_or_find(house, runtime)
    assert "zones.north" in str(fault.value)
    assert "Traceback" not in str(fault.value)


def test_a_runtime_folder_that_is_not_there_is_said_in_words(house, runtime):
    with pytest.raises(PinsFault, match=r"nowhere/board\.log: No such file or directory"):
        start_or_find(house, runtime / "nowhere")


def test_a_folder_too_long_for_a_socket_is_said_in_words():
    with pytest.raises(PinsFault, match=r"too long a path for a socket.*--runtime"):
        board_socket(Path("/tmp") / ("x" * 100))
    assert board_socket(Path("/tmp") / ("x" * 91)).name == "board.sock"


def test_the_longest_path_that_is_allowed_is_one_that_a_socket_takes(runtime):
    folder = runtime / ("x" * (107 - len(f"{runtime}//board.sock")))
    folder.mkdir()
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as listener:
        listener.bind(str(board_socket(folder)))


# ── holding lines ────────────────────────────────────────────────────────────────────────────────


def test_relays_keep_their_last_level_when_their_holder_is_killed(board, looker):
    script = (
        "import sys, time; from pathlib import Path;"
        "from controller.circuits.fakeboard.client import BoardClient;"
        "board = BoardClient(Path(sys.argv[1])); board.claim({17: False, 23: False});"
        "board.set_levels({17: True}); print(flush=True); time.sleep(60)"
    )
    command = [sys.executable, "-c", script, str(board)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as holder:
        holder.stdout.readline()
        holder.kill()
    looker.wait_for(change("holder", "GPIO17 and GPIO23", 0))
    assert str(holder.pid) in next(
        one.says for one in looker.log() if one.what == "holder" and one.to == 1
    )
    with pytest.raises(PinsFault, match="Nothing of the kind"):  # in all of 50 ms
        looker.wait_for(lambda one: one.what in ("pin", "contact") and one.to == 0, seconds=0.05)
    assert contact(looker, "zones.north")


def test_a_line_that_somebody_holds_is_busy_until_they_part(board, looker):
    with BoardClient(board) as first, BoardClient(board) as second:
        first.claim({17: False, 22: False})
        for refused in (
            lambda: second.claim({22: True, 23: True}),
            lambda: second.claim({}, {22: InputLine("low", 0)}),
            lambda: second.open_all({17: False}),
        ):
            with pytest.raises(PinsFault, match=rf"busy: GPIO\d+ held by process {os.getpid()}"):
                refused()
        second.claim({23: False})  # what nobody holds
        first.close()
        looker.wait_for(change("holder", "GPIO17 and GPIO22", 0))
        second.claim({17: True})
        second.set_levels({17: False})


def test_only_who_claimed_a_line_as_output_drives_it(board):
    with BoardClient(board) as client:
        client.claim({17: False}, INPUTS)
        for pin in (22, 20):
            with pytest.raises(PinsFault, match="only who claimed"):
                client.set_levels({17: True, pin: True})
        with pytest.raises(PinsFault, match="an output or an input"):
            client.claim({5: False}, {5: InputLine("low", 0)})
        assert client.read([17]) == {17: False}


def test_a_change_carries_both_clocks(board, pins, looker):
    before = (time.monotonic_ns(), time.time_ns())
    pins.set_many({17: True})
    after = (time.monotonic_ns(), time.time_ns())
    moved = looker.wait_for(change("pin", "GPIO17"))
    assert before[0] <= moved.mono <= after[0]
    assert before[1] - MS <= moved.utc <= after[1] + MS


# ── whoever follows ──────────────────────────────────────────────────────────────────────────────


def test_who_follows_is_told_what_was_and_what_comes_in_order(board, looker, pins):
    pins.set_many({17: True})
    looker.wait_for(change("contact", "zones.north", 1))
    with BoardClient(board) as follower:
        follower.follow()
        pins.set_many({17: False})
        seen = []
        follower.wait_for(lambda one: seen.append(one) or change("contact", "zones.north", 0)(one))
        assert [one.number for one in seen] == list(range(1, len(seen) + 1))
        assert seen == follower.log()[: len(seen)]
        last = seen[-1].number
    with BoardClient(board) as later:
        later.follow(since=last)
        pins.set_many({17: True})
        assert later.wait_for(lambda _: True).number == last + 1


def test_who_follows_and_does_not_read_holds_nobody_up_and_loses_nothing(board, pins):
    with BoardClient(board) as sleeper:
        sleeper.follow()
        rounds = 1500
        for _ in range(rounds):  # far more than a socket's buffer holds
            pins.set_many({17: True, 27: False, 13: True})
            pins.set_many({17: False, 27: True, 13: False})
        seen = []
        last = max(one.number for one in board_log(board) if one.what == "pin")
        sleeper.wait_for(lambda one: seen.append(one) or one.number == last)
        assert [one.number for one in seen] == list(range(1, last + 1))
        assert last > 6 * rounds


def test_who_asks_and_never_reads_is_hung_up_on_and_the_others_served(board, looker):
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as deaf:
        deaf.connect(str(board))
        deaf.settimeout(10)
        with pytest.raises(ConnectionError):  # noqa: PT012  # the board parts in time
            while True:
                deaf.sendall(b'{"do":"state"}\n' * 100)
    assert looker.state()["building"] == "Thistle House"


# ── words ────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("nonsense", "not understood"),
        ("[" * 60_000, "not understood"),
        ("[1]", 'object with "do"'),
        ('{"do": 7}', 'object with "do"'),
        ('{"do": "dance"}', "nobody knows how to dance"),
        ('{"do": "press"}', '"name" is missing'),
        ('{"do": "press", "name": 20}', '"name": expected text'),
        ('{"do": "claim", "outputs": [17]}', '"outputs": expected an object'),
        ('{"do": "claim", "outputs": {"28": 0}}', "'28' is no pin"),
        ('{"do": "claim", "outputs": {"-1": 0}}', "'-1' is no pin"),
        ('{"do": "claim", "outputs": {"17": 7}}', "7 is no level"),
        ('{"do": "claim", "outputs": {}, "inputs": {"20": ["low"]}}', "debounce in ns"),
        ('{"do": "claim", "outputs": {}, "inputs": {"20": ["low", 1e9]}}', "debounce in ns"),
        ('{"do": "read", "pins": [99]}', "'99' is no pin"),
        ('{"do": "fault", "name": "zones.north", "fault": "tired"}', "slow, stuck, welded"),
        ('{"do": "fault", "name": "zones.north", "fault": "slow", "ms": -1}', "from 0 to 60000"),
        ('{"do": "fault", "name": "zones.north", "fault": "slow", "ms": Infinity}', "a number"),
        ('{"do": "supply", "there": 1}', "true or false"),
        ('{"do": "dials", "line": "main", "shown": 1, "took": "x"}', "expected + or -"),
        ('{"do": "log", "since": -1}', "from 0"),
    ],
)
def test_what_is_not_understood_is_answered_in_words(talk, line, words):
    talk.sendall(line.encode() + b"\n")
    answer = json.loads(talk.makefile().readline())
    assert answer["ok"] is False
    assert words in answer["says"]


@pytest.fixture(scope="module")
def talk(tmp_path_factory):
    """A bare connection; the board that answers is one for all."""
    house = tmp_path_factory.mktemp("house") / "house.toml"
    house.write_text(HOUSE)
    with tempfile.TemporaryDirectory() as short:
        path, _ = start_or_find(house, Path(short))
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as link:
            link.settimeout(10)
            link.connect(str(path))
            yield link
        stop(path)


def test_a_message_without_end_is_refused(board):
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as link:
        link.settimeout(10)
        link.connect(str(board))
        link.sendall(b"x" * 65_537)
        assert "at most 65536 bytes" in link.makefile().readline()
        assert link.recv(1) == b""


def test_one_client_too_many_is_told_so(board):
    clients = [BoardClient(board) for _ in range(server_module.MOST_CLIENTS)]
    for client in clients:
        client.state()
    with BoardClient(board) as late, pytest.raises(PinsFault, match="as many clients"):
        late.state()
    for client in clients:
        client.close()


# ── the pins of the hand ─────────────────────────────────────────────────────────────────────────


def test_the_pins_are_claimed_and_let_go_without_moving_a_relay(board, looker):
    with FakePins(board, OUTPUTS, INPUTS) as pins:
        relays = [OutputDevice(pin, initial_value=None, pin_factory=pins) for pin in OUTPUTS]
        assert [relay.pin.state for relay in relays] == list(OUTPUTS.values())
    looker.wait_for(lambda one: one.what == "holder" and one.to == 0)
    assert {one.what for one in looker.log()} == {"holder"}


def test_closing_the_pins_opens_the_relays_and_again_is_no_harm(board, looker):
    pins = FakePins(board, OUTPUTS, INPUTS)
    pins.set_many({17: True, 27: False})
    looker.wait_for(change("contact", "zones.south", 1))
    assert not pins.closed
    pins.close()
    pins.close()
    assert pins.closed
    opened = {looker.wait_for(lambda one: (one.what, one.to) == ("contact", 0)).name for _ in "12"}
    assert opened == {"zones.north", "zones.south"}


def test_gpiozeros_devices_work_the_relays(pins, looker):
    bell = OutputDevice(27, active_high=False, initial_value=None, pin_factory=pins)
    bell.on()
    assert looker.wait_for(change("contact", "zones.south")).to == 1
    bell.close()
    assert looker.wait_for(change("contact", "zones.south")).to == 0


def test_a_press_is_heard_by_select_and_by_gpiozeros_device(pins, looker):
    button = DigitalInputDevice(20, pull_up=True, pin_factory=pins)
    pressed = []
    button.when_activated = lambda: pressed.append(True)
    assert pins.read_events() == []
    looker.press("north_button")
    assert readable(pins, 5)
    (edge,) = pins.read_events()
    assert (edge.pin, edge.high) == (20, False)
    assert pressed == [True]
    assert button.is_active
    at = looker.wait_for(change("input", "north_button")).mono
    assert edge.mono == at + 20 * MS
    assert not readable(pins, 0)


def test_an_edge_that_came_along_with_an_answer_wakes_select_too(pins, looker):
    pins.set_many({17: True})
    looker.wait_for(change("input", "zones.north sense"))
    while not pins.level(24):  # its debounce runs; the edge is sent before this answer
        pass
    assert readable(pins, 0)
    assert [(edge.pin, edge.high) for edge in pins.read_events()] == [(24, True)]
    assert not readable(pins, 0)


def test_more_edges_than_are_read_at_once_wake_select_again(pins):
    pins._board._edges.extend(InputEdge(20, number % 2 == 1, number) for number in range(1_500))
    assert [edge.mono for edge in pins.read_events()] == list(range(MOST_EDGES))
    assert readable(pins, 0)
    assert [edge.mono for edge in pins.read_events()] == list(range(MOST_EDGES, 1_500))
    assert not readable(pins, 0)


def test_a_board_that_is_gone_wakes_select_and_is_a_fault_in_words(board, pins):
    stop(board)
    assert readable(pins, 5)
    with pytest.raises(PinsFault, match="gone"):
        pins.read_events()
    with pytest.raises(PinsFault, match="gone"):
        pins.set_many({17: True})
    with pytest.raises(PinsFault):
        pins.close()
