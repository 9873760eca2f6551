"""Texts of buildings, each as a keeper would write it."""

from __future__ import annotations

# Nothing more than must be there.
LEAST = """
[building]
timezone = "Europe/Oslo"
[zones.north]
relay = 17
"""

# Two kinds of bell, two kinds of line, one plan and a tape: what most faults are made in.
HOUSE = """
[building]
name = "Marrow Lane School"
timezone = "America/Halifax"
[supply]
amps = 5.0
[zones.north]
relay = 17
bells = 6
amps_each = 0.25
[zones.south]
relay = 18
longest = "8s"
[zones.gong]
relay = 19
kind = "single-stroke"
[lines.main]
drive = "alternating"
relays = [22, 23]
dials = 22
amps_each = 0.012
[lines.tower]
drive = "single"
relays = 24
[plans.regular]
rings = [{ at = "08:30", zones = ["north", "south"], for = "5s", says = "First class" }]
[week]
mon = "regular"
[tape]
length = "12h"
for = "5s"
[tape.holes]
north = ["09:20"]
"""


def plus(text: str) -> str:
    """The house with something more in its file."""
    return f"{HOUSE}\n{text}\n"


def instead(old: str, new: str) -> str:
    """The house with something else in its file."""
    assert HOUSE.count(old) == 1, "the place must be plain"
    return HOUSE.replace(old, new)


def ringing(ring: str) -> str:
    """The house with another ring in another plan."""
    return plus(f"[plans.other]\nrings = [{{ {ring} }}]")
