"""A panel of buttons for the engine's tests, and a supply that two of the zones share."""

from __future__ import annotations

BUTTONS = """
[panel.north_button]
pin = 5
does = "ring"
zones = ["north"]
[panel.other_button]
pin = 6
does = "ring"
zones = ["north"]
[panel.all_button]
pin = 7
does = "ring"
zones = ["north", "south"]
[panel.stop_button]
pin = 8
does = "stop"
[panel.step_button]
pin = 9
does = "step"
line = "main"
"""

SHARED = """
[supply]
amps = 1.0
[zones.big]
relay = 14
bells = 1
amps_each = 1.0
[zones.small]
relay = 15
bells = 1
amps_each = 0.5
[panel.small_button]
pin = 16
does = "ring"
zones = ["small"]
"""

NORTH = ("north",)
FIRST = '{ at = "08:30", zones = ["north"], for = "5s", says = "First" }'
