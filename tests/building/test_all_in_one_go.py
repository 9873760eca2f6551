"""One reading tells of every fault, in every file; and whatever a path holds, it only tells."""

from __future__ import annotations

from pathlib import Path

import pytest
from building_texts import HOUSE, LEAST
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.building.faults import Fault, Faults
from controller.building.file import building_of as building_in_memory
from controller.building.file import read
from controller.building.sheets import Source

WIRING = """
[zones.north]
relay = 17
longest = 8
[zones.south]
relay = 17
colour = "red"
[lines.main]
drive = "alternating"
relays = [22]
gap = "0.1s"
patience = "13h"
"""
TIMETABLE = """
[building]
timezone = "Europe/Olso"
[quiet]
north = ["sat"]
west = ["fri evening"]
[plans.regular]
rings = [
  { at = "8:30", zones = ["soth"], for = "5s" },
  { at = "12:00", zones = ["south"], strokes = [1, 1], says = 5 },
  { at = "13:00", zones = ["south"], for = "11s" },
]
[week]
mon = "reglar"
sonntag = "none"
"""


FIRST, SECOND = "1-wiring.toml", "2-timetable.toml"
EXPECTED = [
    (FIRST, "[zones.north]", "longest"),
    (FIRST, "[zones.south]", "colour"),
    (FIRST, "[zones.south]", "relay"),
    (FIRST, "[lines.main]", "gap"),
    (FIRST, "[lines.main]", "relays"),
    (FIRST, "[lines.main]", "patience"),
    (SECOND, "[building]", "timezone"),
    (SECOND, "[week]", "sonntag"),
    (SECOND, "[week]", "mon"),
    (SECOND, "[plans.regular] ring 1 (8:30)", "at"),
    (SECOND, "[plans.regular] ring 1 (8:30)", "zones"),
    (SECOND, "[plans.regular] ring 2 (12:00)", "says"),
    (SECOND, "[plans.regular] ring 2 (12:00)", "strokes"),
    (SECOND, "[quiet]", "west"),
    (SECOND, "[quiet]", "west"),
    (SECOND, "[plans.regular] ring 3 (13:00)", "for"),
]


def refused(path: Path) -> tuple[Fault, ...]:
    with pytest.raises(Faults) as faults:
        read(path)
    return faults.value.faults


def test_all_faults_of_two_files_are_told_at_once(tmp_path):
    (tmp_path / "1-wiring.toml").write_text(WIRING)
    (tmp_path / "2-timetable.toml").write_text(TIMETABLE)
    told = [(Path(one.file).name, one.table, one.key) for one in refused(tmp_path)]
    assert sorted(told) == sorted(EXPECTED)
    assert [file for file, _, _ in told] == [file for file, _, _ in EXPECTED], "file by file"


def test_a_bad_item_of_a_row_hides_no_other(tmp_path):
    text = LEAST + '[tape]\nlength = "6h"\nfor = "5s"\n[tape.holes]\nnorth = ["25:00", "06:00"]\n'
    (tmp_path / "school.toml").write_text(text)
    words = " ".join(str(fault) for fault in refused(tmp_path / "school.toml"))
    assert 'wrong in it: "25:00"' in words
    assert "below the tape's length (6h); wrong in it: 06:00" in words


def test_each_fault_is_a_line_with_file_table_key_value_and_what_was_expected(tmp_path):
    path = tmp_path / "school.toml"
    path.write_text(LEAST + 'longest = "1h"\nbells = 0\n')
    with pytest.raises(Faults) as faults:
        read(path)
    assert str(faults.value).splitlines() == [
        f'{path}: [zones.north] longest = "1h": expected a duration from "100ms" to "2m" '
        '(a number and ms, s, m, h or d), such as "10s"',
        f"{path}: [zones.north] bells = 0: expected a whole number from 1 to 1000, such as 6",
    ]


def test_of_very_many_faults_the_rest_is_a_count(tmp_path):
    rings = '{ at = "08:30", zones = ["west"], for = "5s" },' * 1_500
    (tmp_path / "school.toml").write_text(LEAST + f"[plans.regular]\nrings = [{rings}]\n")
    with pytest.raises(Faults) as faults:
        read(tmp_path / "school.toml")
    lines = str(faults.value).splitlines()
    assert len(lines) == 1_001
    assert lines[-1] == "and 500 more faults"


# ── whatever is written, it is read or refused ───────────────────────────────────────────────────

ODD_VALUES = st.sampled_from(
    [
        "true",
        "0",
        "-1",
        "17",
        "1e400",
        "nan",
        '""',
        '"*"',
        '"0s"',
        '"99999999d"',
        '"24:00"',
        '"2026-02-29"',
        "2026-11-25",
        "08:30:00.5",
        "2026-11-25T08:30:00Z",
        "[]",
        "[[]]",
        "{}",
        "[true]",
        '["*",1]',
        "[22,22]",
        '{at="08:30"}',
        '[{at="08:30"}]',
        '"\\u0000"',
        '"none"',
        '"usual"',
        '"single-stroke"',
        '"series"',
        "[0.1,0.1]",
        '["sat"]',
        '["00:00"]',
        "0x" + "f" * 300,
    ]
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.integers(0, 40), ODD_VALUES), min_size=1, max_size=4))
def test_whatever_values_stand_in_a_file_it_is_read_or_its_faults_are_told(changes):
    lines = HOUSE.splitlines()
    for place, value in changes:
        key, equals, _ = lines[place % len(lines)].partition(" = ")
        if equals:
            lines[place % len(lines)] = f"{key} = {value}"
    faults: tuple[Fault, ...] = ()
    try:
        assert building_in_memory("x", [Source("x", "\n".join(lines).encode())]).zones
    except Faults as refusal:
        faults = refusal.faults
    assert all(fault.expected and fault.file == "x" for fault in faults)


@given(st.binary(max_size=60))
def test_whatever_bytes_stand_in_a_file_its_faults_are_told(content):
    with pytest.raises(Faults):
        building_in_memory("x", [Source("x", content)])
