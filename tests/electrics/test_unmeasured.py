"""What the file does not say is listed, all of it at once."""

from __future__ import annotations

from pathlib import Path

from installed import BATTERY, installed

from controller.building.file import read
from controller.electrics.unmeasured import unmeasured

SCHOOL = read(Path(__file__).parents[2] / "config" / "marrow-lane")


def keys(building):
    return [(one.where, one.key) for one in unmeasured(building)]


def test_of_a_bare_zone_everything_is_missing_at_once():
    assert keys(installed("[zones.north]\nrelay = 17\n")) == [
        ("zones.north", "bells"),
        ("zones.north", "amps_each"),
        ("zones.north", "run_metres"),
        ("zones.north", "wire"),
        ("supply", "amps"),
    ]


def test_of_a_line_in_series_also_its_resistor_and_of_its_suppressor_the_volts():
    line = '[lines.tower]\ndrive = "single"\nrelays = 24\nwired = "series"\nsuppressor = "varistor"'
    found = keys(installed(line))
    assert ("lines.tower", "resistor_ohms") in found
    assert ("lines.tower", "stand_off_volts") in found


def test_of_a_battery_what_it_has_and_what_is_wanted_of_it():
    zone = "[zones.north]\nrelay = 17\n"
    assert [key for where, key in keys(installed(zone, "[battery]\n")) if where == "battery"] == [
        "amp_hours", "hours", "steady_amps", "fuse_amps",
    ]  # fmt: skip
    assert ("battery", "fuse_amps") in keys(installed(zone, BATTERY))


def test_the_school_lacks_only_what_its_file_leaves_out():
    assert keys(SCHOOL) == [
        ("lines.workshop", "henries_each"),
        ("lines.watch", "run_metres"),
        ("lines.watch", "wire"),
        ("lines.watch", "ohms_each"),
        ("lines.watch", "henries_each"),
    ]
