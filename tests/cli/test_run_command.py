"""`understudy run`: what is given to the daemon, and how it is said that it cannot begin."""

from __future__ import annotations

from pathlib import Path

import pytest
from houses import BROKEN

from controller.cli import run as command
from controller.journal.faults import StoreFault


@pytest.fixture
def begun(monkeypatch):
    """What daemons were made of; none of them runs."""
    made: list[tuple[tuple, dict]] = []
    monkeypatch.setattr(command, "Daemon", lambda *args, **more: made.append((args, more)))
    monkeypatch.setattr(command, "serve", lambda daemon, watch: 0)
    return made


def test_the_daemon_is_told_its_folders_and_who_may_give_orders(understudy, begun, small):
    said = understudy(
        "run", small, "--state", "/x/state", "--runtime", "/x/run", "--group", "keepers"
    )
    assert said.code == 0
    assert begun == [
        (
            (small, Path("/x/state"), Path("/x/run")),
            {"fake": False, "right": False, "group": "keepers"},
        )
    ]


def test_on_the_fake_board_it_has_folders_of_its_own(understudy, begun, runtime, small):
    understudy("run", small, "--fake", "--as-if-right")
    ((args, more),) = begun
    assert args == (small, runtime / "fake-house" / "state", runtime / "fake-house")
    assert more == {"fake": True, "right": True, "group": None}


def test_a_bad_file_ends_with_exit_code_2(understudy, runtime, state_folder, house):
    said = understudy("run", house(BROKEN))
    assert said.code == 2
    assert "Mars/Olympus" in said.err
    assert "2 faults; see above." in said.err


def test_a_store_that_cannot_be_had_ends_with_exit_code_1(understudy, begun, monkeypatch, small):
    def refuses(daemon, watch):
        raise StoreFault("store.sqlite: another program holds it; end that program")

    monkeypatch.setattr(command, "serve", refuses)
    said = understudy("run", small)
    assert said.code == 1
    assert said.err == "understudy: store.sqlite: another program holds it; end that program\n"
