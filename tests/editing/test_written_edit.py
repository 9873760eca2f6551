"""The keeper's file is written whole or not at all, and what it held is kept."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import stat
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from elm_house import KEEPERS, TIMETABLE
from freezegun import freeze_time

from controller.building.civil import utc_ns
from controller.building.faults import Faults
from controller.editing import keeper_file
from controller.editing.keeper_file import MOST_VERSIONS, EditRefused, versions_of, write

LATER = TIMETABLE.replace("08:30", "08:35")


def held(folder) -> str:
    return (folder / KEEPERS).read_text(encoding="utf-8")


def names(folder) -> set[str]:
    return {file.name for file in folder.iterdir()}


def refused(folder, versions, text=LATER) -> str:
    with pytest.raises(EditRefused) as refusal:
        write(folder, KEEPERS, text, versions)
    return str(refusal.value)


def test_the_file_has_the_new_text_and_the_old_one_is_kept(folder, versions):
    with freeze_time("2026-11-25 12:30:00.500"):
        write(folder, KEEPERS, LATER, versions)
    assert held(folder) == LATER
    assert names(folder) == {"10-wiring.toml", KEEPERS}, "and nothing else is left there"
    (kept,) = versions_of(versions, KEEPERS)
    assert kept.file.read_text(encoding="utf-8") == TIMETABLE
    assert kept.file == versions / f"{KEEPERS}.20261125T123000.500Z"
    assert kept.utc == utc_ns(datetime(2026, 11, 25, 12, 30, 0, 500_000, tzinfo=UTC))
    assert names(versions) == {kept.file.name}


def test_line_ends_and_letters_are_written_as_they_are(folder, versions):
    text = LATER.replace("\n", "\r\n") + "# Größe → 日本\r\n"
    write(folder, KEEPERS, text, versions)
    assert (folder / KEEPERS).read_bytes() == text.encode()


def test_the_same_text_again_changes_nothing_and_keeps_nothing(folder, versions):
    before = (folder / KEEPERS).stat()
    write(folder, KEEPERS, TIMETABLE, versions)
    assert (folder / KEEPERS).stat() == before
    assert not versions.exists()


def test_mode_and_owner_stay(folder, versions):
    (folder / KEEPERS).chmod(0o664)
    if os.geteuid() == 0:
        os.chown(folder / KEEPERS, 1234, 2345)
    before = (folder / KEEPERS).stat()
    os.utime(folder / KEEPERS, ns=(1, 1))
    write(folder, KEEPERS, LATER, versions)
    after = (folder / KEEPERS).stat()
    assert (after.st_mode, after.st_uid, after.st_gid) == (
        before.st_mode,
        before.st_uid,
        before.st_gid,
    )
    assert after.st_ino != before.st_ino, "it is another file in the old one's place"
    assert after.st_mtime_ns > 1, "it was changed now"


def test_what_is_kept_is_for_the_daemons_user_alone(folder, versions):
    write(folder, KEEPERS, LATER, versions)
    (kept,) = versions_of(versions, KEEPERS)
    assert stat.S_IMODE(kept.file.stat().st_mode) == 0o600
    assert stat.S_IMODE(versions.stat().st_mode) == 0o700


def test_a_link_stays_a_link_and_what_it_leads_to_is_replaced(folder, versions):
    (folder / KEEPERS).rename(folder / "timetable-of-2026")
    (folder / KEEPERS).symlink_to("timetable-of-2026")
    write(folder, KEEPERS, LATER, versions)
    assert (folder / KEEPERS).is_symlink()
    assert (folder / "timetable-of-2026").read_text(encoding="utf-8") == LATER


def test_a_building_that_was_named_by_a_link_is_followed(folder, versions, tmp_path):
    link = tmp_path / "building"
    link.symlink_to(folder)
    write(link, KEEPERS, LATER, versions)
    assert held(folder) == LATER


def test_a_link_out_of_the_folder_is_not_followed(folder, versions, tmp_path):
    (folder / KEEPERS).rename(tmp_path / "elsewhere.toml")
    (folder / KEEPERS).symlink_to(tmp_path / "elsewhere.toml")
    assert "a link out of its folder" in refused(folder, versions)
    assert (tmp_path / "elsewhere.toml").read_text(encoding="utf-8") == TIMETABLE


def test_what_a_cut_edit_left_is_in_nobodys_way(folder, versions, tmp_path):
    (folder / ".edited.new").symlink_to(tmp_path / "victim")
    write(folder, KEEPERS, LATER, versions)
    assert held(folder) == LATER
    assert names(folder) == {"10-wiring.toml", KEEPERS}
    assert not (tmp_path / "victim").exists()


def test_a_file_that_is_not_there_is_not_made(folder, versions):
    (folder / KEEPERS).unlink()
    assert "none of the building's files" in refused(folder, versions)
    with pytest.raises(Faults):
        write(folder / "gone", KEEPERS, LATER, versions)
    assert not versions.exists()


# ── versions ─────────────────────────────────────────────────────────────────────────────────────


def test_the_fifty_newest_of_each_file_are_kept(folder, versions):
    write(
        folder, "10-wiring.toml", "# checked\n" + (folder / "10-wiring.toml").read_text(), versions
    )
    for number in range(MOST_VERSIONS + 3):
        write(folder, KEEPERS, f"# {number}\n{TIMETABLE}", versions)
    kept = versions_of(versions, KEEPERS)
    newest_first = [version.file.read_text().partition("\n")[0] for version in kept]
    assert newest_first == [f"# {number}" for number in range(MOST_VERSIONS + 1, 1, -1)]
    assert len(kept) == 50
    assert len(versions_of(versions, "10-wiring.toml")) == 1


def test_the_newest_is_the_newest_though_the_clock_was_set_back(folder, versions):
    for text, at in (
        (LATER, "2026-11-25 12:30"),
        (TIMETABLE, "2026-11-25 11:30"),
        (LATER, "2020-01-01"),
    ):
        with freeze_time(at):
            write(folder, KEEPERS, text, versions)
    kept = versions_of(versions, KEEPERS)
    assert [one.file.read_text() for one in kept] == [TIMETABLE, LATER, TIMETABLE]
    assert [one.utc // 1_000_000 % 1000 for one in kept] == [2, 1, 0]


def test_an_edit_that_fails_again_and_again_crowds_no_version_out(folder, versions):
    write(folder, KEEPERS, LATER, versions)
    (folder / ".edited.new").mkdir()
    for _ in range(3):
        refused(folder, versions, "# other")
    assert [one.file.read_text() for one in versions_of(versions, KEEPERS)] == [LATER, TIMETABLE]


def test_other_files_among_the_versions_are_left_alone(folder, versions):
    versions.mkdir(parents=True)
    others = {
        f"{KEEPERS}.bak",
        f"my-{KEEPERS}.20261125T123000.250Z",
        f"{KEEPERS}.20261399T123000.250Z",
    }
    for name in others:
        (versions / name).write_text("")
    write(folder, KEEPERS, LATER, versions)
    assert len(versions_of(versions, KEEPERS)) == 1
    assert others < names(versions)


@pytest.mark.parametrize("name", ["../elm-house/10-wiring.toml", "", "..", "*"])
def test_of_a_name_that_is_no_file_nothing_is_kept(folder, versions, name):
    write(folder, KEEPERS, LATER, versions)
    assert versions_of(versions, name) == []


# ── what can go wrong ────────────────────────────────────────────────────────────────────────────


def test_where_the_old_text_cannot_be_kept_nothing_is_written(folder, tmp_path):
    in_the_way = tmp_path / "state"
    in_the_way.write_text("a file where a folder should be")
    words = refused(folder, in_the_way / "versions")
    assert "was not changed, for what it holds now cannot be kept" in words
    assert held(folder) == TIMETABLE


def test_where_something_else_stands_in_the_way_nothing_is_written(folder, versions):
    (folder / ".edited.new").mkdir()
    assert f"{KEEPERS} was not changed: {folder}: " in refused(folder, versions)
    assert held(folder) == TIMETABLE


@pytest.mark.parametrize(
    ("number", "advice"),
    [
        (errno.EROFS, "ReadWritePaths="),
        (errno.EACCES, "chown"),
        (errno.EPERM, "chown"),
        (errno.ENOSPC, "Make room"),
        (errno.EDQUOT, "Make room"),
        (errno.EIO, "Input/output error"),
    ],
)
@pytest.mark.parametrize("place", ["open", "fsync", "replace"])
def test_whatever_the_disk_answers_the_file_is_as_it_was_and_the_words_say_what_to_do(
    folder, versions, monkeypatch, number, advice, place
):
    """The file's own part alone is made to fail: the version before it has been kept."""
    put = keeper_file._put

    def failing(*_, **__):
        raise OSError(number, os.strerror(number))

    def refusing(file, content, prepare):
        with monkeypatch.context() as patch:
            if file.name == KEEPERS:
                target = keeper_file.Path if place == "replace" else os
                patch.setattr(target, place, failing)
            put(file, content, prepare)

    monkeypatch.setattr(keeper_file, "_put", refusing)
    words = refused(folder, versions)
    assert f"{KEEPERS} was not changed: " in words
    assert advice in words
    assert held(folder) == TIMETABLE
    assert names(folder) == {"10-wiring.toml", KEEPERS}


def test_where_the_rename_may_be_lost_that_is_said(folder, versions, monkeypatch):
    settle = keeper_file._settle

    def failing(place):
        if place == folder:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        settle(place)

    monkeypatch.setattr(keeper_file, "_settle", failing)
    assert "was changed, but a power cut may take that back" in refused(folder, versions)
    assert held(folder) == LATER


AS_NOBODY = """
import os, sys
from pathlib import Path
from controller.editing.keeper_file import EditRefused, write
folder, text, versions = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
try:
    write(folder, "20-timetable.toml", text, versions)
except EditRefused as refusal:
    sys.exit(str(refusal))
"""


def test_a_folder_that_the_user_may_not_write_to_is_told_with_what_to_do(folder):
    with tempfile.TemporaryDirectory() as place:
        reached = Path(place)  # by every user, as a folder of pytest's is not
        shutil.copytree(folder, reached / "house")
        (reached / "versions").mkdir()
        (reached / "versions").chmod(0o777)
        (reached / "house").chmod(0o555)
        reached.chmod(0o755)
        ran = subprocess.run(
            [sys.executable, "-c", AS_NOBODY, reached / "house", LATER, reached / "versions"],
            check=False,
            capture_output=True,
            text=True,
        )
        (reached / "house").chmod(0o755)
        assert f"{KEEPERS} was not changed: user" in ran.stderr
        assert f"may not write in {reached / 'house'}. Give the folder to that user" in ran.stderr
        assert held(reached / "house") == TIMETABLE


def test_a_file_that_would_change_hands_is_not_replaced(folder, versions, monkeypatch):
    """The file is another user's, and only root may give files away (chown(2))."""
    stat_of = Path.stat

    def of_another(file, **how):
        found = stat_of(file, **how)
        return os.stat_result((*found[:4], 4711, *found[5:])) if file.name == KEEPERS else found

    def refusing(*_):
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(Path, "stat", of_another)
    monkeypatch.setattr(os, "chown", refusing)
    assert "belongs to user 4711" in refused(folder, versions)
    assert held(folder) == TIMETABLE
    assert names(folder) == {"10-wiring.toml", KEEPERS}


WRITING = """
import sys
from itertools import count
from pathlib import Path
from controller.editing.keeper_file import write
folder, versions = Path(sys.argv[1]), Path(sys.argv[2])
print("begun", flush=True)
for number in count():
    write(folder, "20-timetable.toml", f"# {number}\\n" + "#" * 200_000 + "\\n# end\\n", versions)
"""


def test_a_daemon_killed_while_it_writes_leaves_the_old_file_or_the_new_one(folder, versions):
    for _ in range(5):
        with subprocess.Popen(
            [sys.executable, "-c", WRITING, folder, versions], stdout=subprocess.PIPE
        ) as writing:
            assert writing.stdout is not None
            writing.stdout.readline()
            until = time.monotonic() + 20
            while held(folder) == TIMETABLE and time.monotonic() < until:
                time.sleep(0.001)
            writing.send_signal(signal.SIGKILL)
        assert held(folder).endswith("# end\n")
        assert len(held(folder)) > 200_000
        for version in versions_of(versions, KEEPERS):
            assert version.file.read_text(encoding="utf-8").endswith(("# end\n", '"regular"\n'))
        (folder / KEEPERS).write_text(TIMETABLE)
