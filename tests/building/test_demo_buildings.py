"""The demo buildings are without fault, and the school's files show all that a file can say."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
import tomli

from controller.building.entries import aliases
from controller.building.file import read
from controller.building.model import TABLES
from controller.building.values import ns_of_day

CONFIG = Path(__file__).parents[2] / "config"
SCHOOL = CONFIG / "marrow-lane"
DEMOS = [SCHOOL, *sorted(CONFIG.glob("*.toml"))]
ONE_FOR_EACH_NAME = ("zones", "lines", "returns", "panel", "plans")


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_demo_building_is_without_fault(path):
    assert read(path).zones


def written(heading: str, document: dict[str, Any]) -> set[str]:
    """The keys that stand in a document's tables of this heading."""
    name = heading.strip("[]").partition(".")[0].partition("]")[0]
    table = document.get(name, {})
    if heading.endswith("rings"):
        return {key for plan in table.values() for ring in plan["rings"] for key in ring}
    if heading == "[tape.holes]":
        table = table.get("holes", {})
    if heading.endswith("event"):
        table = [entry["event"] for entry in table if "event" in entry]
    if isinstance(table, list):
        return {key for entry in table for key in entry}
    if name in ONE_FOR_EACH_NAME:
        return {key for entry in table.values() for key in entry}
    return set(table)


@pytest.mark.parametrize("heading", TABLES)
def test_the_school_shows_every_key_of_every_table(heading):
    shown: set[str] = set()
    for file in SCHOOL.glob("*.toml"):
        shown |= written(heading, tomli.loads(file.read_text(encoding="utf-8")))
    keys = set(aliases(TABLES[heading]))
    if keys == {"ZONE"}:
        assert shown <= set(read(SCHOOL).zones)
        assert shown
    elif heading == "[week]":
        assert shown < keys, "a day is left out, to show that it may be"
    else:
        assert shown == keys


def test_the_school_has_more_to_ring_at_once_than_its_supply_carries():
    school = read(SCHOOL)
    together = school.zones["north"].amps + school.zones["south"].amps
    assert school.bell_amps is not None
    assert max(zone.amps for zone in school.zones.values()) <= school.bell_amps < together


def test_something_sounds_in_the_school_every_half_hour_of_a_usual_day():
    tape = read(SCHOOL).tape
    assert tape is not None
    midnight = datetime.combine(date(2026, 11, 25), time.min)
    half_hours = [(midnight + timedelta(minutes=30 * n)).time() for n in range(24)]
    assert set(tape.holes["lodge"]) == {ns_of_day(at) for at in half_hours}
    assert "lodge" not in read(SCHOOL).quiet
