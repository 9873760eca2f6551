"""How every edit reaches the files: through the daemon that runs them, or here where none does."""

from __future__ import annotations

import pytest
from houses import SMALL

from controller.building.file import fingerprint_of
from controller.circuits.folders import fake_folder
from controller.cli import edits
from controller.editing.document import Change
from controller.service.order_server import Reply

FINGERPRINT = "f" * 64
LATER = SMALL.replace("08:30", "08:35")


def of_the_daemon(desk, path) -> None:
    """The desk says that this is its building's path, and that nothing would change."""
    more = {"changes": [], "silences": [], "fingerprint": FINGERPRINT}
    nothing = Reply(True, "Nothing would change.", more)
    desk.replies["preview"] = lambda said: nothing
    desk.replies["files"] = lambda said: Reply(True, "1 files.", {"path": str(path)})


def orders(desk) -> list[str]:
    return [said["order"] for said in desk.heard]


@pytest.fixture
def edited(tmp_path):
    path = tmp_path / "new.toml"
    path.write_text(LATER, encoding="utf-8")
    return path


def test_while_a_daemon_runs_the_building_the_daemon_writes_it(understudy, daemon, small):
    of_the_daemon(daemon.desk, small)
    was = fingerprint_of(small)
    said = understudy("edit", "week", small, "sat=none", "--yes")
    assert said.code == 0
    assert orders(daemon.desk) == ["files", "preview", "edit"]
    told = daemon.desk.heard[-1]
    assert told["file"] == "house.toml"
    assert told["text"] == SMALL.replace('sat = "regular"', 'sat = "none"')
    assert told["was"] == was, "of the files from which the edit was made"
    assert small.read_text() == SMALL, "and nobody else"


def test_a_daemon_of_another_building_is_left_alone(understudy, daemon, small, tmp_path):
    (tmp_path / "other.toml").write_text(SMALL)
    of_the_daemon(daemon.desk, tmp_path / "other.toml")
    assert understudy("edit", "week", small, "sat=none", "--yes").code == 0
    assert orders(daemon.desk) == ["files"]
    assert 'sat = "none"' in small.read_text()


def test_a_daemon_on_the_fake_board_is_found_by_the_buildings_name(monkeypatch, small, runtime):
    asked = []

    def nobody(folder, seconds):
        asked.append(folder)
        raise edits.NoDaemon("nobody", may_run=False)

    monkeypatch.setattr(edits, "OrderClient", nobody)
    assert edits.daemon_of(small, None) is None
    assert asked == [runtime, fake_folder(small)]
    assert edits.daemon_of(small, runtime) is None
    assert asked[2:] == [runtime], "where a folder is named, only there"


def test_where_a_daemon_may_run_and_cannot_be_asked_nothing_is_written(
    understudy, monkeypatch, small, runtime
):
    def hidden(folder, seconds):
        raise edits.NoDaemon("this user may not give orders", may_run=True)

    monkeypatch.setattr(edits, "OrderClient", hidden)
    said = understudy("edit", "week", small, "sat=none", "--yes")
    assert said.code == 1
    assert "may not give orders" in said.err
    assert small.read_text() == SMALL


def test_files_that_changed_meanwhile_are_not_written_over(small, runtime, state_folder):
    texts = edits.texts_of(small)
    small.write_text(LATER)
    with pytest.raises(edits.NotDone, match="begin it again"):
        edits.settle(small, None, texts, Change("house.toml", SMALL + "# more\n"), yes=True)
    assert small.read_text() == LATER


def test_files_that_change_while_a_person_thinks_are_not_written_over(
    understudy, monkeypatch, small, runtime, state_folder
):
    def confirm(question: str) -> bool:
        small.write_text(LATER)
        return True

    monkeypatch.setattr(edits.typer, "confirm", confirm)
    said = understudy("edit", "week", small, "sat=none")
    assert said.code == 1
    assert "begin it again" in said.err
    assert small.read_text() == LATER


def test_a_file_with_faults_is_mended_in_an_editor_first(understudy, house, runtime):
    path = house(SMALL.replace("relay = 17", "relay = 99"))
    said = understudy("edit", "week", path, "sat=none", "--yes")
    assert said.code == 2
    assert "[zones.north] relay = 99" in said.err


def test_a_file_that_is_no_text_is_told(understudy, house, runtime):
    path = house("")
    path.write_bytes(b"\xff\xfe")
    for command in (("week", path), ("undo", path)):
        said = understudy("edit", *command)
        assert said.code == 2
        assert "is not UTF-8 text" in said.err


# ── whole files ──────────────────────────────────────────────────────────────────────────────────


def test_a_whole_file_is_put_in_place_where_no_daemon_runs(
    understudy, small, edited, runtime, state_folder
):
    said = understudy("edit", "file", edited, small, "--as", "house.toml", "--yes")
    assert said.code == 0
    assert small.read_text() == LATER
    assert understudy("edit", "undo", small, "--yes").code == 0
    assert small.read_text() == SMALL


def test_a_whole_file_goes_through_the_daemon_that_runs_the_building(
    understudy, daemon, small, edited
):
    of_the_daemon(daemon.desk, small)
    assert understudy("edit", "file", edited, small, "--as", "house.toml", "--yes").code == 0
    assert orders(daemon.desk) == ["files", "preview", "edit"]


def test_a_whole_file_based_on_others_is_refused(understudy, small, edited, runtime):
    based = ("--was", "a" * 64)
    said = understudy("edit", "file", edited, small, "--as", "house.toml", *based, "--yes")
    assert said.code == 1
    assert small.read_text() == SMALL


def test_the_installers_tables_are_not_changed_here_either(understudy, small, edited, runtime):
    edited.write_text(SMALL.replace("relay = 17", "relay = 7"))
    said = understudy("edit", "file", edited, small, "--as", "house.toml", "--yes")
    assert said.code == 1
    assert "zones.north: relay 17 → 7" in said.err
    assert small.read_text() == SMALL


# ── undo ─────────────────────────────────────────────────────────────────────────────────────────


def test_an_undo_shows_the_lines_that_go_and_come(understudy, small, runtime, state_folder):
    understudy("edit", "week", small, "sat=none", "--yes")
    said = understudy("edit", "undo", small, typed="n\n")
    assert said.code == 1
    assert '  − sat = "none"\n  + sat = "regular"\n' in said.out
    assert 'sat = "none"' in small.read_text()


def test_where_a_daemon_runs_it_knows_what_is_put_back(understudy, daemon, small):
    of_the_daemon(daemon.desk, small)
    more = {"file": "house.toml", "text": LATER, "edited": 1_795_600_800_000_000_000}
    daemon.desk.replies["earlier"] = lambda said: Reply(True, "As it was.", more)
    said = understudy("edit", "undo", small, "--yes")
    assert said.code == 0
    assert "The edit of Wed 2026-11-25 06:00:00 is taken back, in house.toml:" in said.out
    assert orders(daemon.desk) == ["files", "earlier", "files", "preview", "edit"]
    assert daemon.desk.heard[-1]["text"] == LATER


def test_without_an_edit_there_is_nothing_to_undo(understudy, small, runtime, state_folder):
    said = understudy("edit", "undo", small)
    assert said.code == 1
    assert "Nothing is to be undone: of house.toml no version" in said.err


def test_an_undo_of_much_shows_a_screen_of_it(understudy, small, edited, runtime, state_folder):
    edited.write_text(SMALL + "# line\n" * 100)
    understudy("edit", "file", edited, small, "--as", "house.toml", "--yes")
    said = understudy("edit", "undo", small, "--yes")
    assert "  and 60 lines more\n" in said.out


def test_what_would_fall_silent_is_said_before_anything_is_asked(
    understudy, small, runtime, state_folder
):
    days = [f"{day}=none" for day in ("mon", "tue", "wed", "thu", "fri", "sat")]
    said = understudy("edit", "week", small, *days, typed="n\n")
    assert said.code == 1
    warning, what, question = (
        said.out.index(words)
        for words in ("would ring (", "What would change:", "Write house.toml?")
    )
    assert warning < what < question
    assert small.read_text() == SMALL
