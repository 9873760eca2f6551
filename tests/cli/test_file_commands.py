"""`understudy reload` and `understudy edit file`: shown and asked about before anything is done."""

from __future__ import annotations

import pytest

from controller.service.order_server import Reply

FINGERPRINT = "f" * 64
SILENCES = ["Tomorrow, Thu 26 November: nothing would ring (2 rings now)"]
CHANGES = ["Thu 26 Nov 08:30 north: new, 5 s", "Thu 26 Nov 12:00 south: gone"]


@pytest.fixture
def previews(daemon):
    """A daemon that knows what would change."""
    more = {"changes": CHANGES, "silences": SILENCES, "fingerprint": FINGERPRINT}
    found = Reply(True, "What would change:", more)
    daemon.desk.replies["preview"] = lambda said: found
    return daemon.desk


def orders(desk) -> list[str]:
    return [said["order"] for said in desk.heard]


def test_a_reload_shows_what_changes_asks_and_takes_the_files_it_has_shown(understudy, previews):
    said = understudy("reload", typed="y\n")
    assert said.code == 0
    assert "  ! Tomorrow, Thu 26 November: nothing would ring (2 rings now)\nWhat would" in said.out
    assert "  · Thu 26 Nov 08:30 north: new, 5 s" in said.out
    assert said.out.endswith("reload: done.\n")
    assert previews.heard == [{"order": "preview"}, {"order": "reload", "fingerprint": FINGERPRINT}]


@pytest.mark.parametrize("typed", ["n\n", "\n", ""])
def test_a_reload_that_nobody_wants_is_none(understudy, previews, typed):
    said = understudy("reload", typed=typed)
    assert said.code == 1
    assert orders(previews) == ["preview"]


def test_with_yes_nobody_is_asked(understudy, previews):
    said = understudy("reload", "--yes")
    assert said.code == 0
    assert "Thu 26 Nov 12:00 south: gone" in said.out
    assert orders(previews) == ["preview", "reload"]


def test_files_with_faults_are_refused_in_all_their_words(understudy, daemon):
    faults = "a.toml: [zones.x] relay = 99: no\na.toml: [week] mon = 5: no"
    daemon.desk.replies["preview"] = lambda said: Reply(False, faults)
    said = understudy("reload", "--yes")
    assert said.code == 1
    assert said.err == f"understudy: {faults}\n"
    assert orders(daemon.desk) == ["preview"]


@pytest.fixture
def edited(tmp_path):
    path = tmp_path / "20-timetable.toml"
    path.write_text('[week]\nmon = "schön"\n', encoding="utf-8")
    return path


def test_an_edit_is_shown_asked_about_and_sent_whole(understudy, previews, edited):
    said = understudy("edit", "file", edited, typed="y\n")
    assert said.code == 0
    text = edited.read_text(encoding="utf-8")
    assert previews.heard == [
        {"order": "preview", "file": edited.name, "text": text},
        {"order": "edit", "file": edited.name, "text": text, "was": FINGERPRINT},
    ]
    assert said.out.index("south: gone") < said.out.index("Write 20-timetable.toml")
    assert said.out.endswith("edit: done.\n")


def test_an_edit_may_have_another_name_and_say_on_what_it_was_based(understudy, previews, edited):
    understudy("edit", "file", edited, "--as", "house.toml", "--was", "a1", "--yes")
    assert previews.heard[1]["file"] == "house.toml"
    assert previews.heard[1]["was"] == "a1"


def test_an_edit_that_nobody_wants_is_not_written(understudy, previews, edited):
    said = understudy("edit", "file", edited, typed="n\n")
    assert said.code == 1
    assert "Not written" in said.out
    assert orders(previews) == ["preview"]


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"\xff\xfe", "no UTF-8 text"), (b"#" * ((1 << 20) + 1), "larger than 1 MiB")],
)
def test_what_is_no_text_or_too_much_is_refused_before_it_is_sent(
    understudy, previews, edited, content, words
):
    edited.write_bytes(content)
    said = understudy("edit", "file", edited)
    assert said.code == 2
    assert words in said.err
    assert previews.heard == []


def test_a_file_that_is_not_there_is_said_in_words(understudy, previews, tmp_path):
    said = understudy("edit", "file", tmp_path / "gone.toml")
    assert said.code == 1
    assert "gone.toml: No such file" in said.err
