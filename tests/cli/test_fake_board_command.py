"""`understudy fake-board`, on a board that runs."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from houses import SMALL

BUTTON = '[panel.north_button]\npin = 20\ndoes = "ring"\nzones = ["north"]\n'


@pytest.fixture
def board(understudy, house) -> Iterator:
    """Gives words to a board of its own; ends it afterwards."""
    path = house(SMALL + BUTTON)
    with tempfile.TemporaryDirectory() as short:  # a socket's address is not long

        def said(*words: str):
            return understudy("fake-board", path, *words, "--runtime", Path(short))

        assert said("start").code == 0
        yield said
        said("end")


def test_a_board_is_shown_pressed_made_faulty_and_ended(board):
    assert "zones.north" in board().out
    pressed = board("press", "north_button")
    assert "north_button GPIO20 closed" in pressed.words
    assert "north_button GPIO20 open" in board("let-go", "north_button").words
    assert "24 V GONE" in board("supply", "off").out
    assert "24 V there" in board("supply", "on").out
    assert "fault: stuck" in board("fault", "zones.north", "stuck").out
    assert "fault" not in board("mend", "zones.north").out
    assert "fault: slow" in board("fault", "lines.main+", "slow", "30ms").out
    assert "07:15 07:15 07:15" in board("dials", "main=07:15").words
    assert board("swap", "main").code == 0
    log = board("log")
    assert "input north_button 1" in log.words
    assert "dial main all 435 put to 07:15" in log.words
    assert board("end").code == 0
    gone = board()
    assert gone.code == 1
    assert "No fake board answers" in gone.err


def test_a_name_that_the_board_has_not_is_refused_in_words(board):
    said = board("press", "south_button")
    assert said.code == 1
    assert "south_button" in said.err


@pytest.mark.parametrize("words", [("sing",), ("press",), ("supply", "maybe"), ("fault", "x", "y")])
def test_an_action_that_there_is_not_is_refused_with_those_that_there_are(understudy, small, words):
    said = understudy("fake-board", small, *words)
    assert said.code == 2
    assert "press INPUT" in said.err
