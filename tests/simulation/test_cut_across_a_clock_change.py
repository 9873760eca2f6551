"""The power is away while the local clock changes."""

from __future__ import annotations

import pytest
from simulator.story import Story, ring

SPRING, AUTUMN = "2027-03-14", "2026-11-01"  # America/Halifax, 02:00


@pytest.mark.parametrize("day", [SPRING, AUTUMN])
@pytest.mark.parametrize("hours", [0.01, 1.5, 6])
def test_dials_come_right_and_every_ring_is_accounted_for(day, hours):
    rings = [ring(at) for at in ("01:30", "02:30", "03:30", "08:30")]
    story = Story(*rings, at=f"{day}T00:30")
    story.until(f"{day}T01:59:00" if hours < 1 else f"{day}T01:00:00.5")
    story.happens("cut of hours", hours=hours)
    story.until(f"{day}T10:00:30")
    assert story.shows() == ["10:00"]
    assert story.ends_well()["missed"] >= (0 if hours < 1 else 1)


def test_the_hour_that_comes_twice_rings_once_though_the_power_went_between():
    story = Story(ring("01:30"), at=f"{AUTUMN}T00:30")
    story.until(f"{AUTUMN}T01:45").happens("power cut", seconds=5)
    story.until(f"{AUTUMN}T03:00")
    assert len(story.sounded()) == 1
    story.ends_well()
