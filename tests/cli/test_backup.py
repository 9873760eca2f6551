"""`understudy backup` and `understudy restore`: out of one machine, into another."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from houses import SMALL
from stores import BUILDING, READ, RUNG, leave, note

from controller.building.file import read
from controller.engine.records import LineRow, SoundingRow
from controller.journal.store import Store
from controller.service.order_server import Reply


@pytest.fixture
def gives(daemon, tmp_path, small):
    """A daemon that gives its files, and a copy of its store as an open file."""
    folder = tmp_path / "of-daemon"
    folder.mkdir()
    leave(folder, small, note(1, "as it was"))
    store = Store(folder / "store.sqlite")
    store.copy_to(folder / "copy")
    store.close()
    files = {"files": {"10.toml": SMALL, "20.toml": "# ö\n"}, "fingerprint": "f1"}
    daemon.desk.replies["files"] = lambda said: Reply(True, "", files)
    daemon.desk.replies["backup"] = lambda said: Reply(
        True, "", {}, os.open(folder / "copy", os.O_RDONLY)
    )
    return daemon


@pytest.fixture
def saved(understudy, gives, tmp_path) -> Path:
    """A backup; the daemon that gave it has ended since."""
    path = tmp_path / "saved.zip"
    assert understudy("backup", path).code == 0
    gives.close()
    return path


def stored(folder: Path) -> list:
    store = Store(folder / "store.sqlite")
    try:
        return store.load()
    finally:
        store.close()


# ── backup ───────────────────────────────────────────────────────────────────────────────────────


def test_a_backup_has_the_daemons_store_and_files_and_says_what_it_is(understudy, gives, tmp_path):
    path = tmp_path / "saved.zip"
    said = understudy("backup", path)
    assert said.code == 0
    assert said.words == f"{path}: the store, and 2 files (10.toml, 20.toml)."
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        assert set(archive.namelist()) == {
            "about.json",
            "files/10.toml",
            "files/20.toml",
            "store.sqlite",
        }
        assert archive.read("files/20.toml").decode() == "# ö\n"
        about = json.loads(archive.read("about.json"))
        archive.extract("store.sqlite", tmp_path)
    assert about["fingerprint"] == "f1"
    assert about["format"] == 1
    assert about["version"]
    assert READ in stored(tmp_path)


def test_a_backup_overwrites_nothing(understudy, gives, tmp_path):
    path = tmp_path / "saved.zip"
    path.write_text("precious")
    said = understudy("backup", path)
    assert said.code == 1
    assert "is not overwritten" in said.err
    assert path.read_text() == "precious"


def test_of_a_backup_that_fails_nothing_is_left(understudy, gives, tmp_path):
    gives.desk.replies["backup"] = lambda said: Reply(False, "The disk is full.")
    said = understudy("backup", tmp_path / "saved.zip")
    assert said.code == 1
    assert said.err == "understudy: The disk is full.\n"
    assert not (tmp_path / "saved.zip").exists()


def test_without_a_daemon_a_backup_is_taken_from_what_it_left(
    understudy, runtime, state_folder, small, tmp_path
):
    leave(state_folder, small)
    path = tmp_path / "saved.zip"
    said = understudy("backup", path)
    assert said.code == 0
    assert "Taken from the folders themselves." in said.err
    with zipfile.ZipFile(path) as archive:
        assert archive.read("files/building.toml").decode() == SMALL
        assert json.loads(archive.read("about.json"))["fingerprint"] == BUILDING.fingerprint
    assert sorted(one.name for one in tmp_path.iterdir()) == ["house.toml", "saved.zip", "state"]
    assert READ in stored(state_folder)


def test_without_a_daemon_the_files_may_be_named(
    understudy, runtime, state_folder, small, house, tmp_path
):
    leave(state_folder, small)
    said = understudy("backup", tmp_path / "saved.zip", small)
    assert "(house.toml)" in said.out


def test_without_daemon_and_store_there_is_nothing_to_back_up(
    understudy, runtime, state_folder, tmp_path
):
    said = understudy("backup", tmp_path / "saved.zip")
    assert said.code == 1
    assert "there is no store" in said.err
    assert not (tmp_path / "saved.zip").exists()


# ── restore ──────────────────────────────────────────────────────────────────────────────────────


def test_a_restore_brings_store_and_files_to_a_new_machine_and_says_what_is_next(
    understudy, saved, tmp_path
):
    state, files = tmp_path / "new-state", tmp_path / "etc" / "house"
    said = understudy("restore", saved, "--state", state, "--files", files)
    assert said.code == 0
    assert "store.sqlite is restored, as of 2026-11-25 14:30 UTC." in said.words
    assert "10.toml, 20.toml" in said.words
    assert "understudy first-start" in said.words
    assert sorted(file.name for file in files.iterdir()) == ["10.toml", "20.toml"]
    assert read(files).name == "Elm House"
    assert [one.name for one in state.iterdir()] == ["store.sqlite"]
    records = stored(state)
    assert RUNG in [row for row in records if isinstance(row, SoundingRow)]
    (line,) = [row for row in records if isinstance(row, LineRow)]
    assert not line.read


def test_a_store_that_is_there_is_kept_under_another_name(understudy, saved, state_folder):
    Store(state_folder / "store.sqlite").close()
    said = understudy("restore", saved)
    assert said.code == 0
    assert "The store that was there is now" in said.words
    assert "replaced" in said.out
    assert "were left in the backup" in said.words


def test_while_a_daemon_runs_nothing_is_restored(understudy, gives, state_folder, tmp_path):
    path = tmp_path / "saved.zip"
    understudy("backup", path)
    said = understudy("restore", path)
    assert said.code == 1
    assert "a daemon runs" in said.err
    assert not list(state_folder.iterdir())


def test_where_the_files_are_there_already_nothing_at_all_is_restored(
    understudy, saved, state_folder, tmp_path
):
    said = understudy("restore", saved, "--files", tmp_path)
    assert said.code == 1
    assert "is not overwritten" in said.err
    assert not list(state_folder.iterdir())


def test_a_store_that_a_daemon_has_open_is_not_replaced(understudy, saved, state_folder):
    holds = (
        "import sys; from pathlib import Path; from controller.journal.store import Store\n"
        "store = Store(Path(sys.argv[1])); print('held', flush=True); input(); store.close()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", holds, state_folder / "store.sqlite"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        said = understudy("restore", saved)
        process.communicate("\n", timeout=10)
    assert said.code == 1
    assert "a daemon has it open" in said.err


def changed(saved: Path, changes: dict[str, bytes | None]) -> Path:
    """The backup with other members; None leaves one out."""
    path = saved.with_name("changed.zip")
    with zipfile.ZipFile(saved) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            if name not in changes:
                new.writestr(name, old.read(name))
        for name, content in changes.items():
            if content is not None:
                new.writestr(name, content)
    return path


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"../evil.toml": b""}, "it holds '../evil.toml'"),
        ({"files/../../evil.toml": b""}, "it holds '../../evil.toml'"),
        ({"files//etc/evil.toml": b""}, "it holds '/etc/evil.toml'"),
        ({"files/.hidden.toml": b""}, "it holds"),
        ({"files/evil.sh": b""}, "it holds 'evil.sh'"),
        ({"store.sqlite": None}, "lacks"),
        ({"about.json": None}, "lacks"),
        ({"about.json": b"[]"}, "makes no sense"),
        ({"about.json": b"[" * 50_000}, "makes no sense"),
        ({"about.json": b'{"format": 99, "version": "9.0"}'}, "version 9.0, which is newer"),
        ({"about.json": b" " * 70_000}, "about.json is larger"),
        ({"files/big.toml": b"#" * ((1 << 20) + 1)}, "big.toml is larger than 1 MiB"),
        ({"store.sqlite": b"no store at all" * 100}, "store.sqlite"),
        ({"store.sqlite": b""}, "store.sqlite"),
    ],
)
def test_what_is_no_backup_or_would_write_elsewhere_is_refused_and_changes_nothing(
    understudy, saved, state_folder, tmp_path, changes, words
):
    said = understudy("restore", changed(saved, changes), "--files", tmp_path / "files")
    assert said.code == 1
    assert words in " ".join(said.err.split())
    assert "fault of the program" not in said.err
    assert not list(state_folder.iterdir())
    assert not (tmp_path / "files").exists()


@pytest.mark.parametrize("content", [b"", b"PK", b"no zip", os.urandom(4096)])
def test_a_file_that_is_no_zip_is_refused(understudy, runtime, state_folder, tmp_path, content):
    path = tmp_path / "saved.zip"
    path.write_bytes(content)
    said = understudy("restore", path)
    assert said.code == 1
    assert "is damaged, or is no backup" in said.err


def test_a_backup_with_a_damaged_member_is_refused(understudy, saved, state_folder):
    content = bytearray(saved.read_bytes())
    with zipfile.ZipFile(saved) as archive:
        start = archive.getinfo("store.sqlite").header_offset + 60
    content[start : start + 64] = bytes(64)
    saved.write_bytes(content)
    said = understudy("restore", saved)
    assert said.code == 1
    assert "is damaged" in said.err
    assert not list(state_folder.iterdir())


def test_a_backup_that_is_not_there_is_said_in_words(understudy, runtime, tmp_path):
    said = understudy("restore", tmp_path / "gone.zip")
    assert said.code == 1
    assert "gone.zip: No such file" in said.err
