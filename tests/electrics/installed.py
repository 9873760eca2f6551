"""Buildings as an installer would write them, with what is run, fused and fitted."""

from __future__ import annotations

from controller.building.file import building_of
from controller.building.model import Building
from controller.building.sheets import Source

HEAD = '[building]\ntimezone = "Europe/Oslo"\n'
BATTERY = "[battery]\namp_hours = 26\nhours = 24\nsteady_amps = 0.3\n"
ZONE = "[zones.north]\nrelay = 17\nbells = 6\namps_each = 0.25\n"
LINE = '[lines.main]\ndrive = "alternating"\nrelays = [22, 23]\ndials = 22\namps_each = 0.012\n'
SINGLE = '[lines.tower]\ndrive = "single"\nrelays = 24\ndials = 4\namps_each = 0.2\n'


def installed(*texts: str) -> Building:
    """The building of these tables."""
    text = HEAD + "\n".join(texts)
    return building_of("house.toml", [Source("house.toml", text.encode())])
