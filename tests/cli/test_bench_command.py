"""`understudy bench`: what it refuses, in words. What it does is in tests/bench."""

from __future__ import annotations

import pytest

from controller.circuits.fakeboard.spawning import start_or_find, stop
from controller.engine.records import LineRow
from controller.journal.store import Store


@pytest.fixture
def on_board(runtime, state_folder, small):
    """The words of a bench on a fake board, which is there already."""
    board, _ = start_or_find(small, runtime)
    yield ["bench", small, "--fake", "--unattended", "--runtime", runtime, "--state", state_folder]
    stop(board)


def test_it_refuses_beside_a_daemon_and_says_what_to_do(understudy, daemon, small):
    said = understudy("bench", small, "relays", "--unattended")
    assert said.code == 1
    assert "A daemon runs" in said.err
    assert "systemctl stop understudy" in said.err


def test_it_refuses_while_a_daemon_has_the_store_open(understudy, on_board, state_folder):
    store = Store(state_folder / "store.sqlite")
    said = understudy(*on_board, "relays")
    store.close()
    assert said.code == 1
    assert "a daemon has it open" in said.err
    assert not (state_folder / "bench").exists() or not list((state_folder / "bench").iterdir())


def test_a_test_that_is_none_is_answered_with_the_one_meant(understudy, small):
    said = understudy("bench", small, "relay", "--unattended")
    assert said.code == 2
    assert 'did you mean "relays"' in said.err.replace("\n", " ")


def test_a_zone_that_is_none_is_answered_with_the_one_meant(understudy, small):
    said = understudy("bench", small, "--only", "nort", "--unattended")
    assert said.code == 2
    assert "north" in said.err


def test_a_bad_file_is_exit_code_2(understudy, house):
    said = understudy("bench", house("[building]\n"), "--unattended")
    assert said.code == 2
    assert "timezone" in said.err


def test_without_pins_it_says_so_and_leaves_no_record(
    understudy, small, runtime, state_folder, monkeypatch
):
    monkeypatch.setenv("UNDERSTUDY_CHIP", "no such chip")
    said = understudy("bench", small, "relays", "--unattended")
    assert said.code == 1
    assert "The hand could not take the pins" in said.err
    assert not list((state_folder / "bench").iterdir())


def test_a_run_says_what_it_found_and_where_the_record_is(understudy, on_board, tmp_path):
    out = tmp_path / "records"
    said = understudy(*on_board, "relays", "--only", "south", "--out", out, "--by", "Ida")
    assert said.code == 0
    assert "zones.south" in said.out
    assert "1 not judged" in said.out
    assert {file.suffix for file in out.iterdir()} == {".json", ".html", ".pdf"}


def test_where_a_line_was_moved_it_says_that_it_is_unread(understudy, on_board, state_folder):
    store = Store(state_folder / "store.sqlite")
    store.commit([LineRow("main", True, 630, 720, "+", False, False, None, 1)])
    store.close()
    said = understudy(*on_board, "relays", "--only", "main")
    assert "unread in the store now: main" in said.words
    store = Store(state_folder / "store.sqlite")
    (row,) = (one for one in store.load() if isinstance(one, LineRow))
    store.close()
    assert not row.read


def test_a_board_that_is_wired_otherwise_is_no_board_for_it(understudy, on_board, small):
    small.write_text(small.read_text().replace("relay = 18", "relay = 19"))
    said = understudy(*on_board, "relays")
    assert said.code == 1
    assert "wired otherwise" in said.err
