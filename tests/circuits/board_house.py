"""Houses whose fake board has one of everything."""

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

# For the hand: more of the panel, a gap that a test can wait for, and a health relay.
HAND_HOUSE = (
    HOUSE.replace("sense = [10, 11]", 'sense = [10, 11]\nimpulse = "500ms"\ngap = "200ms"')
    + """
[panel.stop_button]
pin = 21
does = "stop"

[panel.north_off]
pin = 16
does = "quiet"
zones = ["north"]

[panel.step_button]
pin = 12
does = "step"
line = "main"

[health]
relay = 25
"""
)
