"""Buildings for the commands, each as a keeper would write it."""

from __future__ import annotations

# One zone, one line, one ring a weekday; 2026-11-25 is a Wednesday.
SMALL = """
[building]
name = "Elm House"
timezone = "America/Halifax"
[supply]
amps = 2.0
sense = 26
[zones.north]
title = "North wing"
relay = 17
bells = 4
amps_each = 0.25
[zones.south]
relay = 18
bells = 2
amps_each = 0.5
[lines.main]
title = "Classrooms"
drive = "alternating"
relays = [22, 23]
sense = [24, 25]
dials = 5
amps_each = 0.01
[quiet]
north = ["sat", "sun"]
[plans.regular]
rings = [
  { at = "08:30", zones = ["north"], for = "5s", says = "First class" },
  { at = "12:00", zones = ["north", "south"], strokes = [1, 0.5, 1], says = "Lunch" },
]
[week]
mon = "regular"
tue = "regular"
wed = "regular"
thu = "regular"
fri = "regular"
sat = "regular"
[[calendar]]
from = "2026-12-19"
until = "2027-01-03"
plan = "none"
says = "Winter break"
"""

# What a keeper may not expect: merges over each limit, and more asked at once than the supply has.
CROWDED = """
[building]
timezone = "Europe/Oslo"
[supply]
amps = 1.0
[zones.hall]
relay = 17
longest = "10s"
a_minute = "12s"
[zones.east]
relay = 18
bells = 1
amps_each = 0.6
longest = "40s"
a_minute = "50s"
[zones.west]
relay = 19
bells = 1
amps_each = 0.6
[zones.attic]
relay = 20
[plans.merging]
rings = [
  { at = "08:00", zones = ["hall"], for = "8s" },
  { at = "08:00:05", zones = ["hall"], for = "8s" },
  { at = "08:00:12", zones = ["hall"], for = "8s" },
  { at = "09:00", zones = ["hall"], for = "9s" },
  { at = "09:00:20", zones = ["hall"], for = "9s" },
]
[plans.waiting]
rings = [
  { at = "10:00", zones = ["east", "west"], for = "4s" },
  { at = "11:00", zones = ["east"], for = "35s" },
  { at = "11:00:01", zones = ["west"], for = "4s" },
]
[plans.night]
rings = [
  { at = "01:59", zones = ["hall"], for = "2s" },
  { at = "02:30", zones = ["hall"], for = "2s" },
]
[plans.spare]
rings = []
[week]
mon = "merging"
tue = "waiting"
sun = "night"
"""

RINGLESS = '[building]\ntimezone = "UTC"\n[zones.north]\nrelay = 17\n'

BROKEN = """
[building]
timezone = "Mars/Olympus"
[zones.north]
relay = 99
"""


def instead(old: str, new: str) -> str:
    """The small house with something else in its file."""
    assert SMALL.count(old) == 1, "the place must be plain"
    return SMALL.replace(old, new)


# Forty dials at the end of a long thin cable.
THIN = """
[building]
timezone = "Europe/Oslo"
[battery]
cells = 12
[lines.attic]
drive = "alternating"
relays = [22, 23]
dials = 40
amps_each = 0.012
run_metres = 400
wire = "0.5 mm2"
"""
