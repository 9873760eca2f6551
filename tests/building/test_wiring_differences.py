"""What another file changes of the installer's tables, in words."""

from __future__ import annotations

import pytest
from building_texts import HOUSE, instead, plus

from controller.building.differences import wiring_differences
from controller.building.model import INSTALLERS, KEEPERS, TABLES


def test_every_table_of_the_file_is_the_installers_or_the_keepers():
    names = [heading.strip("[]").partition(".")[0].partition("]")[0] for heading in TABLES]
    assert list(dict.fromkeys(names)) == [*INSTALLERS, *KEEPERS]


@pytest.fixture
def said(building_of):
    def found(before: str, after: str) -> list[str]:
        return wiring_differences(building_of(before), building_of(after))

    return found


def test_of_the_same_wiring_nothing_is_said(said):
    assert said(HOUSE, HOUSE) == []


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("relay = 17\n", "relay = 21\n", "zones.north: relay 17 → 21"),
        ('longest = "8s"', 'longest = "9.5s"', 'zones.south: longest "8s" → "9.5s"'),
        ('longest = "8s"\n', "", 'zones.south: longest "8s" → "10s"'),
        ("amps = 5.0\n", "amps = 5.0\nsense = 26\n", "supply: sense not set → 26"),
        ("amps = 5.0\n", "", "supply: amps 5.0 → not set"),
        ("[22, 23]", "[23, 22]", "lines.main: relays [22, 23] → [23, 22]"),
        (
            "bells = 6\namps_each = 0.25",
            "bells = 4\namps_each = 0.3",
            "zones.north: bells 6 → 4, amps_each 0.25 → 0.3",
        ),
        (
            "America/Halifax",
            "Europe/Oslo",
            'building: timezone "America/Halifax" → "Europe/Oslo"',
        ),
        ("Marrow Lane", "Elm", 'building: name "Marrow Lane School" → "Elm School"'),
        ("relays = 24", 'relays = 24\nevery = "30s"', 'lines.tower: every "60s" → "30s"'),
    ],
)  # fmt: skip
def test_a_key_is_told_as_it_was_and_as_it_is(said, old, new, words):
    assert said(HOUSE, instead(old, new)) == [words]


@pytest.mark.parametrize(
    ("more", "heading"),
    [
        ("[zones.yard]\nrelay = 5", "zones.yard"),
        ('[lines.watch]\ndrive = "single"\nrelays = 5', "lines.watch"),
        ('[panel.stop_button]\npin = 20\ndoes = "stop"', "panel.stop_button"),
        ("[health]\nrelay = 5", "health"),
        ('[tell]\ncommand = ["/bin/true"]', "tell"),
    ],
)
def test_a_table_that_came_or_went_is_told(said, more, heading):
    assert said(HOUSE, plus(more)) == [f"{heading}: new"]
    assert said(plus(more), HOUSE) == [f"{heading}: gone"]


def test_what_the_file_does_not_have_reads_as_its_defaults(said):
    assert said(HOUSE, plus('[clock]\ngrace = "30s"')) == []
    assert said(HOUSE, plus('[clock]\ngrace = "20s"')) == ['clock: grace "30s" → "20s"']


def test_the_program_that_is_told_of_faults_is_the_installers(said):
    one, other = (plus(f'[tell]\ncommand = ["/bin/tell", "{word}"]') for word in ("a", "b"))
    assert said(one, other) == ['tell: command ["/bin/tell", "a"] → ["/bin/tell", "b"]']


def test_another_order_of_zones_is_another_order_at_the_supply(said):
    north = "[zones.north]\nrelay = 17\nbells = 6\namps_each = 0.25\n"
    last = instead(north, "").replace("[lines.main]", north + "[lines.main]")
    assert said(HOUSE, last) == ["zones: in another order: south, gong, north"]


def test_what_the_keeper_changes_is_not_told(said):
    keepers = HOUSE.replace('"08:30", zones', '"08:35", zones').replace("09:20", "09:25")
    assert said(HOUSE, keepers + '[quiet]\nnorth = ["sat"]\n[halves]\nday = "07:00"\n') == []


def test_all_tables_are_told_in_their_order(said):
    other = instead("amps = 5.0", "amps = 6.0").replace("relays = 24", "relays = 25")
    other = other.replace("relay = 19", "relay = 20") + "[health]\nrelay = 21\n"
    assert [line.partition(":")[0] for line in said(HOUSE, other)] == [
        "supply", "zones.gong", "lines.tower", "health",
    ]  # fmt: skip
