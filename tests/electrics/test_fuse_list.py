"""Every fuse of the terminal list has its row, as the file has it or as proposed."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from installed import BATTERY, LINE, ZONE, installed
from wired_houses import house, house_texts

from controller.building.file import read
from controller.electrics.cautions import ALWAYS, cautions
from controller.electrics.figures import ToBeMeasured
from controller.electrics.fuse_list import fuse_list
from controller.electrics.terminal_list import terminal_list

SCHOOL = read(Path(__file__).parents[2] / "config" / "marrow-lane")
HEALTH = "[health]\nrelay = 25\n"


def fuses(*texts):
    return {row.name: row for row in fuse_list(installed(*texts))}


@given(house_texts())
def test_the_fuses_of_the_list_are_those_of_the_wires(text):
    building = house(text)
    wired = {
        end.part
        for wire in terminal_list(building)
        for end in (wire.start, wire.end)
        if end.part.startswith("F ")
    }
    listed = [row.name for row in fuse_list(building)]
    assert sorted(listed) == sorted(wired)


def test_a_fuse_of_the_file_is_as_it_is_there():
    row = fuses(ZONE + "fuse_amps = 3.15\n")["F zones.north"]
    assert (row.amps, row.whence) == (3.15, "as in the file")


def test_one_that_is_not_there_is_proposed_by_its_load():
    # 6 × 0.25 = 1.5 A is three quarters of 2 A
    row = fuses(ZONE)["F zones.north"]
    assert (row.amps, row.whence) == (2.0, "proposed")


def test_where_the_load_is_not_known_it_is_to_be_measured():
    row = fuses("[zones.north]\nrelay = 17\n")["F zones.north"]
    assert isinstance(row.amps, ToBeMeasured)
    assert row.whence == ""
    assert isinstance(fuses(ZONE)["F MAIN"].amps, ToBeMeasured)


def test_the_main_fuse_carries_what_the_supply_gives():
    # 3 A is three quarters of 4 A
    assert fuses(ZONE, "[supply]\namps = 3.0\n")["F MAIN"].amps == 4.0


def test_a_battery_has_a_fuse_of_its_own():
    assert isinstance(fuses(ZONE, BATTERY)["F BATTERY"].amps, ToBeMeasured)
    assert fuses(ZONE, BATTERY + "fuse_amps = 5\n")["F BATTERY"].amps == 5.0
    assert "F BATTERY" not in fuses(ZONE)


def test_where_nothing_opens_the_bells_feed_it_is_said():
    assert "plain wire" in cautions(installed(ZONE))[-1]
    assert "north have no sense" in cautions(installed(ZONE, HEALTH))[-1]
    assert cautions(installed(ZONE + "sense = 5\n", HEALTH)) == ALWAYS
    assert cautions(installed(LINE)) == ALWAYS


def test_of_the_school_the_zones_without_a_sense_are_named():
    assert cautions(SCHOOL)[-1].startswith("Zones south, yard, gong, lodge have no sense")
