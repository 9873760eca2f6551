"""A house whose fake board has one of everything."""

HOUSE = """
[building]
name = "Thistle House"
timezone = "America/Halifax"

[supply]
sense = 26

[zones.north]
relay = 17
sense = 24

[zones.south]
relay = 27
active = "low"

[lines.main]
drive = "alternating"
relays = [22, 23]
sense = [10, 11]

[lines.hall]
drive = "single"
relays = [13]
every = "30s"
impulse = "2s"

[panel.north_button]
pin = 20
does = "ring"
zones = ["north"]
"""
