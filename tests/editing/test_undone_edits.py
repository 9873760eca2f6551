"""What an undo puts back, read from the versions that were kept."""

from __future__ import annotations

import pytest
from elm_house import KEEPERS, TIMETABLE
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from controller.building.faults import Faults
from controller.editing.keeper_file import EditRefused, versions_of, write
from controller.editing.undoing import _standing, earlier, versions_folder

FIRST, SECOND, THIRD = (f"# {word}\n{TIMETABLE}" for word in ("first", "second", "third"))


def undone(folder, versions) -> str:
    """Put back what an undo would, and the text that is there then."""
    found = earlier(folder, versions)
    write(folder, found.file, found.text, versions)
    return (folder / KEEPERS).read_text()


def edit(folder, versions, *texts: str) -> None:
    for text in texts:
        write(folder, KEEPERS, text, versions)


def test_where_nothing_was_edited_nothing_is_to_be_undone(folder, versions):
    with pytest.raises(EditRefused, match=r"of 10-wiring\.toml and 20-timetable\.toml no version"):
        earlier(folder, versions)
    with pytest.raises(Faults, match="no such file"):
        earlier(folder / "gone", versions)


def test_each_undo_goes_one_step_further_back(folder, versions):
    edit(folder, versions, FIRST, SECOND, THIRD)
    assert [undone(folder, versions) for _ in range(3)] == [SECOND, FIRST, TIMETABLE]
    with pytest.raises(EditRefused, match="Nothing is to be undone"):
        earlier(folder, versions)


def test_an_edit_after_an_undo_is_what_the_next_undo_takes_back(folder, versions):
    edit(folder, versions, FIRST, SECOND)
    assert undone(folder, versions) == FIRST
    edit(folder, versions, THIRD)
    assert [undone(folder, versions) for _ in range(2)] == [FIRST, TIMETABLE]


def test_what_an_undo_took_away_is_still_among_the_versions(folder, versions):
    edit(folder, versions, FIRST)
    undone(folder, versions)
    assert FIRST in [one.file.read_text() for one in versions_of(versions, KEEPERS)]


def test_what_was_changed_in_an_editor_since_goes_with_the_undo_and_is_kept(folder, versions):
    edit(folder, versions, FIRST)
    (folder / KEEPERS).write_text(SECOND)
    assert undone(folder, versions) == TIMETABLE
    assert SECOND in [one.file.read_text() for one in versions_of(versions, KEEPERS)]


def test_of_several_files_the_one_edited_last_is_put_back(folder, versions):
    (folder / "30-more.toml").write_text("# more\n")
    for at, name, text in (
        ("2026-11-25 10:00", "30-more.toml", "# even more\n"),
        ("2026-11-25 11:00", KEEPERS, FIRST),
    ):
        with freeze_time(at):
            write(folder, name, text, versions)
    with freeze_time("2026-11-25 12:00"):
        assert undone(folder, versions) == TIMETABLE
    found = earlier(folder, versions)
    assert (found.file, found.text) == ("30-more.toml", "# more\n")


def test_the_hour_of_the_edit_is_told(folder, versions):
    with freeze_time("2026-11-25 10:00:00"):
        edit(folder, versions, FIRST)
    assert earlier(folder, versions).edited_utc == 1_795_600_800_000_000_000


def test_two_buildings_with_files_of_one_name_keep_theirs_apart(tmp_path):
    state = tmp_path / "state"
    one, two = tmp_path / "a" / "house", tmp_path / "b" / "house"
    assert versions_folder(state, one) != versions_folder(state, two)
    assert versions_folder(state, one).parent == state / "versions"
    one.mkdir(parents=True)
    (tmp_path / "link").symlink_to(one)
    assert versions_folder(state, tmp_path / "link") == versions_folder(state, one)


@given(st.lists(st.sampled_from(["undo", *"ABCDE"]), max_size=12))
def test_undoing_agrees_with_a_stack_of_what_was_done(happenings):
    """The texts alone tell what a person who wrote every edit and undo down would know.

    An edit that makes the text what it was before the one now is the same as an undo.
    """
    stack, texts = ["start"], ["start"]
    for what in happenings:
        if what == "undo":
            if len(stack) < 2:
                continue
            stack.pop()
        elif what == stack[-1]:
            continue
        elif len(stack) > 1 and what == stack[-2]:
            stack.pop()
        else:
            stack.append(what)
        texts.append(stack[-1])
    standing = _standing((text, at) for at, text in enumerate(texts))
    assert [text for text, _ in standing] == stack
