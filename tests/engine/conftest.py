"""Small worlds for the engine, each from a file written for it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from small_panel import BUTTONS
from small_world import SmallWorld, building_of

WorldOf = Callable[..., SmallWorld]
WIRING = """
[building]
timezone = "America/Halifax"
[zones.north]
relay = 17
[zones.south]
relay = 27
[lines.main]
drive = "alternating"
relays = [22, 23]
[lines.yard]
drive = "single"
relays = [24]
"""


@pytest.fixture
def world_of(tmp_path) -> WorldOf:
    """A world from the rings of every Wednesday, which 25 November 2026 is, and a local time."""

    def made(*rings: str, at: str = "08:29", more: str = "", **kwargs) -> SmallWorld:
        text = f"{WIRING}{more}\n[plans.daily]\nrings = [{', '.join(rings)}]\n"
        text += '[plans.exams]\nrings = [{ at = "08:30:30", zones = ["north"], for = "1s" }]\n'
        building = building_of(tmp_path, text + '[week]\nwed = "daily"\n')
        start = building.civil.instant(datetime.fromisoformat(f"2026-11-25T{at}"))
        return SmallWorld(building, start, **kwargs)

    return made


@pytest.fixture
def button_world(world_of) -> WorldOf:
    """As `world_of`, with a panel of buttons."""

    def made(*rings: str, more: str = "", **kwargs) -> SmallWorld:
        return world_of(*rings, more=BUTTONS + more, **kwargs)

    return made
