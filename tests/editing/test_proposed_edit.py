"""An edit of the keeper's file is judged before anything is written."""

from __future__ import annotations

from datetime import time

import pytest
from elm_house import KEEPERS, TIMETABLE, WIRING

from controller.building.faults import Faults
from controller.building.file import fingerprint_of, read
from controller.editing.keeper_file import EditRefused, proposed

LATER = TIMETABLE.replace("08:30", "08:35")


def refused(path, name, text, running=None) -> str:
    with pytest.raises(EditRefused) as refusal:
        proposed(path, name, text, running or read(path))
    return str(refusal.value)


def test_the_building_is_as_it_would_be_and_nothing_is_written(folder):
    building = proposed(folder, KEEPERS, LATER, read(folder))
    assert building.plans["regular"][0].at == time(8, 35)
    assert building.fingerprint != fingerprint_of(folder) == read(folder).fingerprint
    assert (folder / KEEPERS).read_text(encoding="utf-8") == TIMETABLE
    (folder / KEEPERS).write_text(LATER, encoding="utf-8")
    assert fingerprint_of(folder) == building.fingerprint


def test_a_building_in_one_file_is_edited_too(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(WIRING + TIMETABLE)
    building = proposed(path, "house.toml", WIRING + LATER, read(path))
    assert building.plans["regular"][0].at == time(8, 35)
    assert "relay 17 → 21" in refused(
        path, "house.toml", (WIRING + LATER).replace("relay = 17", "relay = 21")
    )


def test_all_faults_of_the_new_text_are_told(folder):
    with pytest.raises(Faults) as faults:
        proposed(folder, KEEPERS, LATER.replace("north", "nort").replace("5s", "5"), read(folder))
    assert {one.key for one in faults.value.faults} == {"zones", "for"}
    assert all(one.file.endswith(KEEPERS) for one in faults.value.faults)


def test_a_file_with_faults_on_the_disk_can_be_put_right(folder):
    running = read(folder)
    (folder / KEEPERS).write_text("[plans.regular")
    assert proposed(folder, KEEPERS, LATER, running).plans.keys() == {"regular"}


@pytest.mark.parametrize(
    "name",
    [
        "30-other.toml", "", ".", "..", "../elm-house/20-timetable.toml", "./20-timetable.toml",
        "/etc/passwd", "20-timetable.toml\0", "20-TIMETABLE.toml", "notes.txt", ".hidden.toml",
    ],
)  # fmt: skip
def test_what_is_none_of_the_buildings_files_is_refused(folder, name):
    (folder / "notes.txt").write_text("notes")
    (folder / ".hidden.toml").write_text("")
    words = refused(folder, name, LATER)
    assert words.endswith("expected 10-wiring.toml or 20-timetable.toml.")
    assert words.isprintable()


def test_a_link_out_of_the_folder_is_refused(folder, tmp_path):
    elsewhere = tmp_path / "elsewhere.toml"
    (folder / KEEPERS).rename(elsewhere)
    (folder / KEEPERS).symlink_to(elsewhere)
    words = refused(folder, KEEPERS, LATER)
    assert f"a link out of its folder, to {elsewhere}" in words


def test_a_link_within_the_folder_is_not(folder):
    (folder / KEEPERS).rename(folder / "timetable-of-2026")
    (folder / KEEPERS).symlink_to("timetable-of-2026")
    assert proposed(folder, KEEPERS, LATER, read(folder))


@pytest.mark.parametrize(
    ("more", "named"),
    [
        ('[tell]\ncommand = ["/bin/sh", "-c", "anything"]', "tell: new"),
        ("[zones.yard]\nrelay = 5", "zones.yard: new"),
        ('[lines.main]\ndrive = "single"\nrelays = 5', "lines.main: new"),
        ("[supply]\namps = 50.0", "supply: amps not set → 50.0"),
        ("[clock]\ntrust_rtc = true", "clock: trust_rtc false → true"),
        ('[logbook]\nkeep = "7d"', 'logbook: keep "400d" → "7d"'),
        ("[health]\nrelay = 5", "health: new"),
        ('[panel.stop]\npin = 5\ndoes = "stop"', "panel.stop: new"),
    ],
)
def test_the_installers_tables_are_not_changed_by_an_edit(folder, more, named):
    words = refused(folder, KEEPERS, f"{LATER}\n{more}\n")
    assert "only in an editor" in words
    assert words.endswith(f"would be {named}.")


def test_the_installers_file_can_be_replaced_where_it_says_the_same(folder):
    assert proposed(folder, "10-wiring.toml", "# checked\n" + WIRING, read(folder))
    words = refused(folder, "10-wiring.toml", WIRING.replace("Oslo", "London"))
    assert 'building: timezone "Europe/Oslo" → "Europe/London"' in words


def test_wiring_that_was_changed_on_the_disk_does_not_come_in_with_an_edit(folder):
    running = read(folder)
    (folder / "10-wiring.toml").write_text(WIRING.replace("relay = 17", "relay = 21"))
    assert "zones.north: relay 17 → 21" in refused(folder, KEEPERS, LATER, running)


def test_a_refusal_names_no_more_than_a_few_tables(folder):
    more = "".join(f"[zones.z{n}]\nrelay = {n}\n" for n in range(4, 14))
    assert refused(folder, KEEPERS, LATER + more).endswith("zones.z8: new; ….")


def test_a_text_that_is_no_unicode_is_refused(folder):
    assert "'\\ud800'" in refused(folder, KEEPERS, LATER + "# \ud800")


def test_a_text_that_is_too_large_has_a_fault(folder):
    with pytest.raises(Faults, match="too large"):
        proposed(folder, KEEPERS, LATER + "#" * (1 << 20), read(folder))


def test_where_files_cannot_be_read_that_is_told(folder, tmp_path):
    running = read(folder)
    with pytest.raises(Faults, match="there is no such file or folder"):
        proposed(tmp_path / "gone", KEEPERS, LATER, running)
    with pytest.raises(Faults, match="there is no such file or folder"):
        fingerprint_of(tmp_path / "gone")
