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
def morning():
    """Half an hour around the morning break: three zones ring, one has to wait. No ring of strokes,
    so a record's length is its closing's."""
    start, until = (
        SCHOOL.civil.instant(datetime(2026, 11, 23, hour, minute))
        for hour, minute in ((10, 0), (10, 30))
    )
    return played(SCHOOL, start, until)


def test_the_worst_second_is_a_plain_count_over_the_rehearsal_record(morning):
    spans = []
    for record in rehearse(SCHOOL, Script(morning.start_utc, morning.until_utc)):
        match record:
            case RingRecord(at=at, zone=zone, length=length):
                spans.append((at, at + length, SCHOOL.zones[zone].amps))
            case ImpulseRecord(at=at, line=name):
                line = SCHOOL.lines[name]
                spans.append((at, at + line.impulse_ns, line.amps))
    counted = {
        at: sum(amps for start, end, amps in spans if start <= at < end) for at, _, _ in spans
    }
    most = max(counted.values())
    first = min(at for at, amps in counted.items() if amps == pytest.approx(most))
    worst = worst_second(drawn_by(SCHOOL, morning.closings))
    assert worst is not None
    assert worst.amps == pytest.approx(most)
    assert worst.utc <= first < worst.utc + SECOND
    assert SCHOOL.supply.amps is not None
    assert most <= SCHOOL.supply.amps


def test_the_yards_old_wire_is_found_too_thin_and_nothing_else(morning):
    (one,) = findings(SCHOOL, morning)
    assert (one.circuit, one.what) == ("zones.yard", "volts")
    assert "Take 2.5 mm² or thicker, or a supply no farther than 64 m" in one.says


def test_north_has_what_the_wiring_guide_says(morning):
    # wiring/README.md, north: 1.5 A over 50 m of 1.5 mm² lose 1.8 V where all hang at its end; its
    # bells are spread, so (6 + 1) / 12 of it
    north = circuit_rows(SCHOOL)[0]
    assert north.volts == pytest.approx(27.24 - 1.815 * 7 / 12)
