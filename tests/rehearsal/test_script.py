"""What a rehearsal is asked to play through."""

from __future__ import annotations

from datetime import datetime

import pytest

from controller.building.civil import SECOND
from controller.building.file import read
from controller.rehearsal.record import EndRecord, ImpulseRecord, RingRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse

HOUSE = """
[building]
timezone = "Europe/Oslo"
[zones.hall]
relay = 17
[lines.main]
drive = "alternating"
relays = [22, 23]
[plans.a]
rings = [{ at = "08:30", zones = ["hall"], for = "5s" }]
[week]
wed = "a"
"""


@pytest.fixture
def building(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(HOUSE)
    return read(path)


def window(building):
    instant = building.civil.instant
    return instant(datetime(2026, 11, 25, 8)), instant(datetime(2026, 11, 25, 9))


def test_unless_told_a_machine_is_back_20_seconds_after_its_power_and_all_else_is_well():
    script = Script(0, SECOND)
    assert script.boot_ns == 20 * SECOND
    assert (script.dials, script.cuts, script.steps, script.lines) == ({}, (), (), True)


def test_without_lines_the_dials_stand_and_the_bells_sound_all_the_same(building):
    with_lines = list(rehearse(building, Script(*window(building))))
    without = list(rehearse(building, Script(*window(building), lines=False)))
    rings = [record for record in with_lines if isinstance(record, RingRecord)]
    assert len(rings) == 1
    assert [record for record in without if isinstance(record, RingRecord)] == rings
    assert sum(isinstance(record, ImpulseRecord) for record in with_lines) == 59
    end = without[-1]
    assert isinstance(end, EndRecord)
    assert end.impulses == 0
    assert end.lines["main"].shows == ("08:00",)
