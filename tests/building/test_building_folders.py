"""A building in one file or in a folder of files, and paths that hold none."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from building_texts import HOUSE, LEAST

from controller.building.faults import Faults
from controller.building.file import read
from controller.building.sheets import MOST_BYTES, MOST_FILES

WIRING = "[zones.north]\nrelay = 17\n[zones.south]\nrelay = 18\n"
TIMETABLE = '[building]\ntimezone = "Europe/Oslo"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "20-wiring.toml").write_text(WIRING)
    (tmp_path / "10-timetable.toml").write_text(TIMETABLE)
    return tmp_path


def why(path: Path) -> list[str]:
    """The lines with which a path is refused, without the folder's own name."""
    with pytest.raises(Faults) as faults:
        read(path)
    return str(faults.value).replace(f"{path}/", "").splitlines()


def test_a_folder_is_read_as_one_building(folder):
    assert list(read(folder).zones) == ["north", "south"]


def test_files_are_read_in_the_order_of_their_names(folder):
    (folder / "15-gym.toml").write_text("[zones.gym]\nrelay = 5\n")
    assert list(read(folder).zones) == ["gym", "north", "south"]


def test_only_toml_files_that_are_not_hidden_are_read(folder):
    (folder / "notes.txt").write_text("not TOML")
    (folder / "30-old.toml~").write_text("not TOML")
    (folder / ".30-open.toml").write_text("not TOML")
    assert list(read(folder).zones) == ["north", "south"]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("zones.x", "zones.y"),
        ("lines.x", "lines.y"),
        ("panel.x", "panel.y"),
        ("plans.x", "plans.y"),
    ],
)
def test_zones_lines_panel_and_plans_may_be_spread_over_files(folder, first, second):
    values = {
        "zones": "relay = {}\n",
        "lines": 'drive = "single"\nrelays = {}\n',
        "panel": 'does = "stop"\npin = {}\n',
        "plans": "rings = []\n# {}\n",
    }[first[:5]]
    (folder / "a.toml").write_text(f"[{first}]\n{values.format(5)}")
    (folder / "b.toml").write_text(f"[{second}]\n{values.format(6)}")
    assert {"x", "y"} <= set(getattr(read(folder), first[:5]))


def test_the_same_zone_in_two_files_collides_and_both_are_named(folder):
    (folder / "30-more.toml").write_text("[zones.south]\nrelay = 5\n")
    (line,) = why(folder)
    assert line.startswith("30-more.toml: [zones.south]: is in ")
    assert "20-wiring.toml too" in line


@pytest.mark.parametrize(
    "table",
    ['[building]\ntimezone = "UTC"', "[week]", '[[calendar]]\non = 2026-12-18\nplan = "none"'],
)
def test_any_other_table_in_two_files_collides(folder, table):
    (folder / "30-more.toml").write_text(table)
    (folder / "40-again.toml").write_text(table)
    line = why(folder)[-1]
    assert line.startswith(f"40-again.toml: {table.splitlines()[0]}: is in ")
    assert "one file only" in line


def test_a_pin_used_in_two_files_names_the_other_file(folder):
    (folder / "30-more.toml").write_text("[health]\nrelay = 18\n")
    assert why(folder) == [
        "30-more.toml: [health] relay = 18: GPIO 18 is [zones.south] relay in "
        "20-wiring.toml already; expected a pin of its own"
    ]


def test_a_file_that_cannot_be_parsed_names_line_and_column_and_hides_no_other_fault(folder):
    (folder / "10-timetable.toml").write_text(TIMETABLE + "[week\n")
    (folder / "20-wiring.toml").write_text(WIRING + "longest = 8\n")
    first, second = why(folder)
    assert first.startswith("10-timetable.toml: line 3, column 6: not TOML: ")
    assert first.endswith(", in: [week")
    assert second.startswith("20-wiring.toml: [zones.south] longest = 8")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"[zones.north]\n[zones.north]\n", "line 2, column 13: not TOML: [zones.north] is"),
        (b"a = 1\na = 2\n", "this key is there twice"),
        (b"a = 2026-02-30", "line 1, column 5: not TOML: there is no such date or time"),
        (b"name = \n", "a value was expected"),
        (b"a = 1\nname = \"\xff\"", "line 2: is not UTF-8 text"),
        (b"a = " + b"9" * 5000, "too many digits"),
        (b"a = " + b"[" * 5000, "nested too deeply"),
        (b"#" * (MOST_BYTES + 1), "too large; expected at most 1 MiB"),
    ],
    ids=lambda one: one[:40] if isinstance(one, str) else "",
)  # fmt: skip
def test_what_is_not_toml_is_told_and_where(tmp_path, content, words):
    path = tmp_path / "school.toml"
    path.write_bytes(content)
    (line,) = why(path)
    assert line.startswith(f"{path}: ")
    assert words in line


def test_a_path_that_is_not_there_is_told(tmp_path):
    assert why(tmp_path / "no.toml") == [f"{tmp_path / 'no.toml'}: there is no such file or folder"]


def test_an_empty_folder_is_told(tmp_path):
    assert why(tmp_path) == [f"{tmp_path}: this folder has no file that ends in .toml"]


def test_a_folder_of_too_many_files_is_told(tmp_path):
    for number in range(MOST_FILES + 1):
        (tmp_path / f"{number}.toml").touch()
    assert why(tmp_path) == [f"{tmp_path}: this folder has 101 files; expected at most 100"]


def test_a_pipe_is_told_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "school.toml")
    (line,) = why(tmp_path / "school.toml")
    assert "not a plain file" in line


def test_a_link_to_nowhere_is_told(folder):
    (folder / "30-gone.toml").symlink_to(folder / "gone")
    assert why(folder) == ["30-gone.toml: there is no such file or folder"]


def test_a_file_that_may_not_be_read_is_told(folder, monkeypatch):
    # A mode cannot forbid it to root, as whom tests may run: so the kernel is imitated.
    def forbid(self: Path, mode: str) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbid)
    assert all("may not be read by this user" in line for line in why(folder))


def test_a_name_that_no_file_can_have_is_told(tmp_path):
    assert len(why(tmp_path / ("x" * 5000))) == 1
    assert len(why(tmp_path / "a\0b")) == 1


def test_a_byte_order_mark_and_carriage_returns_do_no_harm(tmp_path):
    path = tmp_path / "school.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HOUSE.replace("\n", "\r\n").encode())
    assert read(path).name == "Marrow Lane School"


def test_the_fingerprint_is_sha_256_of_the_files_bytes_in_their_order(folder):
    digest = hashlib.sha256((TIMETABLE + WIRING).encode()).hexdigest()
    assert read(folder).fingerprint == digest


def test_two_readings_of_one_file_are_two_buildings(tmp_path):
    path = tmp_path / "school.toml"
    path.write_text(LEAST)
    first, second = read(path), read(path)
    assert first != second
    assert len({first, second}) == 2
    assert first.fingerprint == second.fingerprint
