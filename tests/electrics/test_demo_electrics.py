"""The demo's figures from the engine's own plays, against the rehearsal record."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from controller.building.file import read
from controller.electrics.findings import findings
from controller.electrics.load import drawn_by, worst_second
from controller.electrics.sheet import circuit_rows
from controller.rehearsal.closings import played
from controller.rehearsal.record import ImpulseRecord, RingRecord
from controller.rehearsal.script import Script
from controller.rehearsal.world import rehearse

SCHOOL = read(Path(__file__).parents[2] / "config" / "marrow-lane")
SECOND = 1_000_000_000


@pytest.fixture(scope="module")
def week():
    """A whole week of the school: some forty thousand impulses, and zones that wait."""
    start, until = (SCHOOL.civil.instant(datetime(2026, 11, day)) for day in (23, 30))
    return played(SCHOOL, start, until)


def test_the_worst_second_is_a_plain_count_over_the_rehearsal_record(week):
    """Each record draws from its first closing to its last opening; strokes' pauses counted in."""
    changes = []
    for record in rehearse(SCHOOL, Script(week.start_utc, week.until_utc)):
        match record:
            case RingRecord(at=at, zone=zone, length=length):
                amps = SCHOOL.zones[zone].amps
            case ImpulseRecord(at=at, line=name):
                line = SCHOOL.lines[name]
                length, amps = line.impulse_ns, line.amps
            case _:
                continue
        changes += [(at, amps), (at + length, -amps)]
    level, most, first = 0.0, 0.0, 0
    for at, amps in sorted(changes):  # what ends at an instant ends before what begins
        level += amps
        if level > most + 1e-9:
            most, first = level, at
    assert len(changes) > 80_000
    worst = worst_second(drawn_by(SCHOOL, week.closings))
    assert worst is not None
    assert worst.amps == pytest.approx(most)
    assert worst.utc <= first < worst.utc + SECOND
    assert SCHOOL.supply.amps is not None
    assert most <= SCHOOL.supply.amps


def test_the_yards_old_wire_is_found_too_thin_and_nothing_else(week):
    (one,) = findings(SCHOOL, week)
    assert (one.circuit, one.what) == ("zones.yard", "volts")
    assert "Take 2.5 mm² or thicker, or a supply no farther than 64 m" in one.says


def test_north_has_what_the_wiring_guide_says(week):
    # wiring/circuits.md, north: 1.5 A over 50 m of 1.5 mm² lose 1.8 V where all hang at its end;
    # its bells are spread, so (6 + 1) / 12 of it
    north = circuit_rows(SCHOOL)[0]
    assert north.volts == pytest.approx(27.24 - 1.815 * 7 / 12)
