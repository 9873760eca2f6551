"""`release`: every relay open, whatever became of daemon and hand, and quickly."""

import errno
import json
import os
import socket
import subprocess
import sys
import threading
from pathlib import Path

import gpiod
import kernel_double
import pytest

from controller.circuits import chip as chip_module
from controller.circuits import release as release_module
from controller.circuits.fakeboard.client import BoardClient
from controller.circuits.fakeboard.spawning import board_socket, start_or_find, stop
from controller.circuits.lines import PinsFault
from controller.circuits.release import Claim, main, read_claim, release, write_claim
from controller.circuits.release_file import outputs_of

CHIP = Path("/dev/gpiochip0")
FILE = """\
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.south]
relay = 27
active = "low"
[lines.main]
drive = "alternating"
relays = [22, 23]
[lines.hall]
drive = "single"
relays = 24
active = "low"
[health]
relay = 25
"""
OPEN = {17: False, 27: True, 22: False, 23: False, 24: True, 25: False}


@pytest.fixture
def kernel(monkeypatch):
    kernel = kernel_double.Kernel()
    monkeypatch.setattr(gpiod, "Chip", kernel.chip)
    monkeypatch.setattr(chip_module, "_chips", lambda: [CHIP])
    monkeypatch.delenv("UNDERSTUDY_CHIP", raising=False)
    return kernel


@pytest.fixture
def clock(monkeypatch):
    """Virtual seconds: a pause passes at once."""

    class Clock:
        now = 0.0

        def monotonic(self):
            return self.now

        def sleep(self, seconds):
            self.now += seconds

    clock = Clock()
    monkeypatch.setattr(release_module, "time", clock)
    return clock


@pytest.fixture
def building_file(tmp_path):
    path = tmp_path / "building.toml"
    path.write_text(FILE)
    return path


# ── what the hand writes down ────────────────────────────────────────────────────────────────────


def test_a_claim_is_read_as_it_was_written(tmp_path):
    write_claim(tmp_path, CHIP, None, {17: False, 22: True})
    assert read_claim(tmp_path) == Claim(CHIP, None, {17: False, 22: True})
    write_claim(tmp_path, None, Path("/run/board.sock"), {4: True})
    assert read_claim(tmp_path) == Claim(None, Path("/run/board.sock"), {4: True})
    assert os.listdir(tmp_path) == ["claimed.json"]


def test_the_claim_is_plain_enough_to_read_by_eye(tmp_path):
    write_claim(tmp_path, CHIP, None, {22: True, 17: False})
    assert (tmp_path / "claimed.json").read_text() == (
        '{"chip": "/dev/gpiochip0", "board": null, "outputs": {"17": 0, "22": 1}}\n'
    )


def test_a_claim_that_cannot_be_written_says_that_nothing_is_claimed(tmp_path):
    with pytest.raises(PinsFault, match="Nothing is claimed"):
        write_claim(tmp_path / "missing", CHIP, None, {17: False})


def test_a_full_folder_does_not_bar_a_hand_whose_claim_is_written_already(tmp_path, monkeypatch):
    write_claim(tmp_path, CHIP, None, {17: False})

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    write_claim(tmp_path, CHIP, None, {17: False})
    with pytest.raises(PinsFault, match="No space left"):
        write_claim(tmp_path, CHIP, None, {18: False})
    assert read_claim(tmp_path) == Claim(CHIP, None, {17: False})


# ── the kernel's pins ────────────────────────────────────────────────────────────────────────────


def test_all_relays_are_opened_by_one_request_and_let_go(kernel, tmp_path):
    write_claim(tmp_path, CHIP, None, {17: False, 22: True})
    assert release(tmp_path, None) == ["Open: GPIO17 and GPIO22 (/dev/gpiochip0)."]
    assert [call[0] for call in kernel.calls] == ["request", "release"]
    assert kernel.levels == {17: [False], 22: [True]}
    assert kernel.holders == {}


def test_what_was_claimed_counts_and_not_what_the_file_says_now(kernel, tmp_path, building_file):
    write_claim(tmp_path, CHIP, None, {5: False})
    release(tmp_path, building_file)
    assert set(kernel.levels) == {5}


def test_a_hand_that_is_just_ending_is_waited_for(kernel, clock, tmp_path, monkeypatch):
    write_claim(tmp_path, CHIP, None, {17: False})
    kernel.holders[17] = "understudy"
    pause = clock.sleep

    def sleep(seconds):
        pause(seconds)
        if clock.now > 1.5:
            kernel.holders.pop(17, None)

    monkeypatch.setattr(clock, "sleep", sleep)
    assert release(tmp_path, None) == ["Open: GPIO17 (/dev/gpiochip0)."]
    assert 1.5 < clock.now < 1.6


def test_lines_that_stay_held_are_a_fault_after_two_seconds(kernel, clock, tmp_path):
    write_claim(tmp_path, CHIP, None, {17: False, 22: False})
    kernel.holders[22] = "understudy"
    with pytest.raises(PinsFault, match=r'still held.*GPIO22 by "understudy".*systemctl stop'):
        release(tmp_path, None)
    assert 2.0 <= clock.now < 2.1
    assert kernel.levels == {}


def test_a_chip_that_is_gone_is_a_fault(kernel, tmp_path):
    write_claim(tmp_path, CHIP, None, {17: False})
    kernel.refuses[str(CHIP)] = errno.ENOENT
    with pytest.raises(PinsFault, match="no such GPIO chip"):
        release(tmp_path, None)


# ── where nothing is written down ────────────────────────────────────────────────────────────────


def test_nothing_claimed_and_no_file_is_nothing_to_open(tmp_path):
    (line,) = release(tmp_path, None)
    assert "nothing to open" in line
    assert str(tmp_path / "claimed.json") in line


def test_without_a_claim_the_file_says_which_relays_there_are(kernel, tmp_path, building_file):
    lines = release(tmp_path, building_file)
    assert kernel.levels == {pin: [high] for pin, high in OPEN.items()}
    assert lines[-1].startswith("Open: GPIO17, GPIO22, GPIO23, GPIO24, GPIO25 and GPIO27")


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"{",
        b"\xff\xfe",
        b"[]",
        b"null",
        b'{"chip": "/dev/gpiochip0", "board": null, "outputs": {"17": 7}}',
        b'{"chip": "/dev/gpiochip0", "board": null, "outputs": {"x": 0}}',
        b'{"chip": "/dev/gpiochip0", "board": null, "outputs": {"-1": 0}}',
        b'{"chip": "/dev/gpiochip0", "board": "/run/b", "outputs": {"17": 0}}',
        b'{"chip": null, "board": null, "outputs": {"17": 0}}',
        b'{"chip": "/dev/gpiochip0", "board": null, "outputs": [17]}',
        b"[" * 60_000,
        b" " * 70_000,
    ],
)
def test_a_damaged_claim_is_replaced_by_the_file(kernel, tmp_path, building_file, damage):
    (tmp_path / "claimed.json").write_bytes(damage)
    with pytest.raises(PinsFault, match=r"cannot be read .*name the building's file"):
        release(tmp_path, None)
    release(tmp_path, building_file)
    assert kernel.levels == {pin: [high] for pin, high in OPEN.items()}


def test_a_folder_of_files_is_read_whole(tmp_path):
    (tmp_path / "a.toml").write_text("[zones.north]\nrelay = 17\n")
    (tmp_path / "b.toml").write_text('[lines.main]\nrelays = [22, 23]\nactive = "low"\n')
    (tmp_path / ".c.toml").write_text("[zones.hidden]\nrelay = 5\n")
    (tmp_path / "notes.txt").write_text("[zones.notes]\nrelay = 6\n")
    assert outputs_of(tmp_path) == ({17: False, 22: True, 23: True}, [])


def test_a_file_that_is_no_valid_building_still_opens_what_it_names(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text('[zones.north]\nrelay = 17\nlongest = "for ever"\nwat = 1\n[week]\nmon = 3\n')
    assert outputs_of(path) == ({17: False}, [])


def test_of_a_file_that_is_not_toml_the_tables_that_are_get_used(tmp_path):
    path = tmp_path / "broken.toml"
    path.write_text(
        '[building]\nname = "Marrow\n[zones.north]\nrelay = 17\n'
        "[zones.south]\nrelay = = 18\n[lines.main]\nrelays = [22, 23]\n"
    )
    outputs, faults = outputs_of(path)
    assert outputs == {17: False, 22: False, 23: False}
    (fault,) = faults
    assert "[zones.south]" in fault


def test_a_relay_whose_open_level_is_not_known_is_left_alone_and_said(kernel, tmp_path):
    path = tmp_path / "building.toml"
    path.write_text(
        '[zones.a]\nrelay = 17\nactive = "hi"\n[zones.b]\nrelay = 18\n'
        '[zones.c]\nrelay = 19\n[zones.d]\nrelay = 19\nactive = "low"\n[zones.e]\nrelay = "x"\n'
    )
    with pytest.raises(PinsFault) as fault:
        release(tmp_path, path)
    words = str(fault.value)
    assert "Open: GPIO18" in words
    assert "[zones.a] active = 'hi'" in words
    assert "GPIO19 is active high and active low" in words
    assert "[zones.e] 'x' is not a BCM GPIO number" in words
    assert kernel.levels == {18: [False]}


def test_a_file_without_relays_is_nothing_to_open(tmp_path):
    path = tmp_path / "building.toml"
    path.write_text("[building]\n")
    assert "nothing to open" in release(tmp_path, path)[-1]


def test_a_file_that_is_not_there_is_a_fault(tmp_path):
    with pytest.raises(PinsFault, match="No such file"):
        release(tmp_path, tmp_path / "missing.toml")


# ── the fake board ───────────────────────────────────────────────────────────────────────────────


def answering(path, *answers):
    """A socket that gives these answers, one a connection; what it was asked."""
    asked = []
    listener = socket.socket(socket.AF_UNIX)
    listener.bind(str(path))
    listener.listen()

    def serve():
        with listener:
            for answer in answers:
                link, _ = listener.accept()
                with link, link.makefile("rb") as words:
                    asked.append(words.readline())
                    link.sendall(answer)

    threading.Thread(target=serve, daemon=True).start()
    return asked


def test_the_fake_board_is_asked_by_one_line_of_json(tmp_path):
    board = tmp_path / "board.sock"
    asked = answering(board, b'{"ok":true}\n')
    write_claim(tmp_path, None, board, {17: False, 22: True})
    assert release(tmp_path, None) == [f"Open: GPIO17 and GPIO22 (the fake board at {board})."]
    assert json.loads(asked[0]) == {"do": "open", "levels": {"17": 0, "22": 1}}
    assert asked[0].endswith(b"}\n")


def test_a_busy_board_is_asked_again(tmp_path, clock):
    board = tmp_path / "board.sock"
    busy = b'{"ok":false,"says":"busy: GPIO17 held by another process"}\n'
    asked = answering(board, busy, busy, b'{"ok":true}\n')
    write_claim(tmp_path, None, board, {17: False})
    release(tmp_path, None)
    assert len(asked) == 3


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (b'{"ok":false,"says":"it has no 17"}\n', "refuses: it has no 17"),
        (b"gibberish\n", "no sound answer"),
        (b"[1]\n", "no sound answer"),
        (b"", "no sound answer"),
    ],
)
def test_a_board_that_refuses_or_babbles_is_a_fault(tmp_path, answer, words):
    board = tmp_path / "board.sock"
    answering(board, answer)
    write_claim(tmp_path, None, board, {17: False})
    with pytest.raises(PinsFault, match=words):
        release(tmp_path, None)


def test_a_board_that_has_ended_has_no_relays_to_open(tmp_path):
    write_claim(tmp_path, None, tmp_path / "board.sock", {17: False})
    (line,) = release(tmp_path, None)
    assert "No fake board runs" in line


@pytest.fixture
def board(tmp_path, building_file):
    start_or_find(building_file, tmp_path)
    path = board_socket(tmp_path)
    yield path
    stop(path)


def test_the_real_board_opens_what_a_dead_hand_left_closed(tmp_path, board):
    write_claim(tmp_path, None, board, {17: False, 27: True})
    with BoardClient(board) as hand:
        hand.claim({17: False, 27: True})
        hand.set_levels({17: True, 27: False})
    release(tmp_path, None)
    with BoardClient(board) as looker:
        driven = [(change.name, change.to) for change in looker.log() if change.what == "pin"]
    assert driven[-2:] == [("GPIO17", 0), ("GPIO27", 1)]


def test_the_real_board_refuses_while_a_hand_holds_the_lines(tmp_path, board, clock):
    write_claim(tmp_path, None, board, {17: False})
    with BoardClient(board) as hand:
        hand.claim({17: False})
        with pytest.raises(PinsFault, match=r"still held.*GPIO17"):
            release(tmp_path, None)


# ── the command ──────────────────────────────────────────────────────────────────────────────────


def test_it_ends_with_0_where_there_was_nothing_to_open(tmp_path, capfd):
    assert main(["--runtime", str(tmp_path)]) == 0
    assert "nothing to open" in capfd.readouterr().out


def test_it_ends_with_1_and_words_where_it_could_not_open(tmp_path, capfd):
    (tmp_path / "claimed.json").write_text("{")
    assert main([f"--runtime={tmp_path}"]) == 1
    assert capfd.readouterr().err.startswith("understudy release: ")


@pytest.mark.parametrize(
    "words", [["--wat"], ["a", "b"], ["--runtime"], ["--runtime", ""], ["--", "--a", "b"], [""]]
)
def test_it_ends_with_2_and_its_usage_where_it_was_not_understood(words, capfd):
    assert main(words) == 2
    assert "Usage: understudy release" in capfd.readouterr().err


def test_help_tells_what_it_does(capfd):
    assert main(["--help"]) == 0
    assert "Opens every relay" in capfd.readouterr().out


def test_the_runtime_folder_comes_from_the_environment_else(tmp_path, monkeypatch, capfd):
    monkeypatch.setenv("UNDERSTUDY_RUNTIME", str(tmp_path / "elsewhere"))
    assert main([]) == 0
    assert str(tmp_path / "elsewhere") in capfd.readouterr().out


def run(*words, **more):
    command = [sys.executable, "-m", "controller.circuits.release", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False, **more)


def test_as_a_process_it_opens_the_boards_relays(tmp_path, board):
    write_claim(tmp_path, None, board, {17: False})
    done = run("--runtime", str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Open: GPIO17")


def test_a_name_that_no_terminal_can_show_breaks_nothing(tmp_path):
    done = run(os.fsencode(tmp_path) + b"/\xff.toml", "--runtime", str(tmp_path))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "No such file" in done.stderr


def test_it_imports_next_to_nothing():
    code = (
        "import sys, controller.circuits.release as r; r.main([]); "
        "print({'typer', 'pydantic', 'argparse', 'gpiozero', 'gpiod', 'tomllib', 'inspect', "
        "'asyncio'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "set()"
