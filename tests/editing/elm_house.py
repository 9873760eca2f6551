"""The texts of a building: the installer's file and the keeper's."""

from __future__ import annotations

WIRING = """
[building]
name = "Elm House"
timezone = "Europe/Oslo"
[zones.north]
relay = 17
[zones.south]
relay = 18
"""
TIMETABLE = """# what rings when
[plans.regular]
rings = [{ at = "08:30", zones = ["north"], for = "5s" }]
[week]
mon = "regular"
"""
KEEPERS = "20-timetable.toml"
